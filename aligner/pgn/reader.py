"""Scores out of PGN: of each game its headers and its own line; sidelines and comments are passed over."""

from __future__ import annotations

import io
import re
from collections.abc import Iterable, Iterator
from pathlib import Path

import chess

from aligner.errors import ScoreError
from aligner.pgn.fen import parse_fen
from aligner.pgn.score import Score
from aligner.pgn.text import RESULTS
from aligner.pgn.tokens import Token, tokens

__all__ = ["parse_fen", "parse_scores", "read_scores"]

_DRAWN = {"½-½": "1/2-1/2", "1/2": "1/2-1/2"}
_ORTHODOX = {"", "standard", "normal", "chess", "orthodox", "from position", "chess960", "fischerandom"}
# "ep", and judgements glued to a move like "+-"; check and mate marks go too, for they tell no moves apart.
_SUFFIX = re.compile(r"(?:ep)?[^0-9A-Za-z]*$")
_MARKS = ((b"\xef\xbb\xbf", "utf-8-sig"), (b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16"))
_NOT_TEXT = "this is not text, so no PGN; name the PGN file, saved as UTF-8."
_NO_GAME = "no game was found in it; a PGN holds tag pairs like [White \"Name\"] and moves like '1. e4 e5'"


def read_scores(path: Path) -> tuple[Score, ...]:
    """The scores of a PGN file, in UTF-8, in Latin-1 (PGN standard, 4.1) or in UTF-16 with its mark.

    Raises:
        ScoreError: the file cannot be read, is not text, or holds no game or a bad one.
    """
    name = path.name or str(path)
    try:
        if path.is_dir():
            raise ScoreError("this is a folder; name the PGN file in it.", name)
        with path.open("rb") as file:
            head = file.peek(4096)
            if not head.strip():
                raise ScoreError("the file is empty; give a PGN with a game in it.", name)
            encoding = next((encoding for mark, encoding in _MARKS if head.startswith(mark)), "utf-8")
            if encoding != "utf-16" and b"\0" in head:
                raise ScoreError(_NOT_TEXT, name)
            with io.TextIOWrapper(file, encoding, "strict" if encoding == "utf-16" else "surrogateescape") as lines:
                return _scores(_text(lines, name), name)
    except FileNotFoundError:
        raise ScoreError("there is no such file; check the name and the folder.", name) from None
    except PermissionError:
        raise ScoreError("the file may not be read; check its permissions.", name) from None
    except UnicodeError:
        raise ScoreError("the text is damaged UTF-16; save it as UTF-8.", name) from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise ScoreError(f"the file cannot be read ({reason}).", name) from None


def parse_scores(text: str, name: str) -> tuple[Score, ...]:
    """The scores in a PGN text.

    Args:
        text: of one game or several.
        name: what to call the file in a message.

    Raises:
        ScoreError: it holds no game or a bad one.
    """
    if not text.strip("\ufeff \t\r\n"):
        raise ScoreError("the file is empty; give a PGN with a game in it.", name)
    return _scores(_text(io.StringIO(text.removeprefix("\ufeff"), newline=None), name), name)


def _text(lines: Iterable[str], name: str) -> Iterator[str]:
    """The lines, with bytes that were no UTF-8 read as Latin-1."""
    for number, line in enumerate(lines, start=1):
        if "\0" in line:
            raise ScoreError(_NOT_TEXT, f"{name}, line {number}")
        if not line.isascii() and any("\udc80" <= character <= "\udcff" for character in line):
            line = "".join(
                chr(ord(character) - 0xDC00) if "\udc80" <= character <= "\udcff" else character for character in line
            )
        # An end-of-file mark of older systems.
        yield line.replace("\x1a", "")


def _scores(lines: Iterable[str], name: str) -> tuple[Score, ...]:
    scores: list[Score] = []
    game = _Game(1, name)
    blank = False
    for token in tokens(lines, name):
        if token.kind == "blank":
            blank = True
            continue
        if game.ended or game.begins_anew(token, blank):
            scores.append(game.score())
            game = _Game(len(scores) + 1, name)
        game.take(token)
        blank = False
    if game.begun:
        scores.append(game.score())
    if not scores:
        raise ScoreError(f"{_NO_GAME}.", name)
    return tuple(scores)


class _Game:
    """One game while it is read."""

    def __init__(self, number: int, name: str) -> None:
        self.number = number
        self.name = name
        self.headers: dict[str, str] = {}
        self.moves: list[str] = []
        self.marker = "*"
        self.ended = False
        self.begun = False
        self._board: chess.Board | None = None
        self._start_fen = chess.STARTING_FEN

    def begins_anew(self, token: Token, blank: bool) -> bool:
        """Whether a token belongs to the next game, this one having no termination marker."""
        if token.kind == "tag":
            return self._board is not None
        return token.kind == "number" and blank and int(token.text[:9]) == 1 and len(self.moves) > 1

    def take(self, token: Token) -> None:
        """Adds one token."""
        where = f"{self.name}, line {token.line}"
        if token.kind == "tag":
            self.begun = True
            self.headers[token.name] = token.text
            return
        if token.kind == "number":
            return
        if token.kind == "result":
            if not self.begun:
                # A file whose first token is a lone star or score holds nothing yet.
                raise ScoreError(f"{_NO_GAME}.", where)
            self.marker = _DRAWN.get(token.text, token.text)
            self.ended = True
            return
        if self._board is None:
            self._board = self._start(where)
        if token.kind == "null":
            raise ScoreError(
                f"{self._move_place()}, {token.text!r}, is a null move, and nobody can pass in chess; "
                f"take it out of the game's own line.",
                where,
            )
        self._play(self._board, token.text, where)
        self.begun = True

    def score(self) -> Score:
        """The game as it stands."""
        if self._board is None:
            self._start(self.name)
        headers = {name: value for name, value in self.headers.items() if name not in ("FEN", "SetUp")}
        # PGN standard, 8.2.6: tag and marker must agree; where the tag leaves it open, the marker tells.
        if headers.get("Result") not in RESULTS[:3]:
            headers["Result"] = self.marker
        return Score(self._start_fen, tuple(self.moves), headers, self.number)

    def _start(self, where: str) -> chess.Board:
        variant = self.headers.get("Variant", "")
        if variant.strip().lower() not in _ORTHODOX:
            raise ScoreError(f"game {self.number} follows the rules of {variant!r}; only chess can be aligned.", where)
        if "FEN" in self.headers:
            try:
                self._start_fen = parse_fen(self.headers["FEN"])
            except ScoreError as error:
                raise ScoreError(f"game {self.number}: {error.what}", where) from None
        return chess.Board(self._start_fen)

    def _play(self, board: chess.Board, text: str, where: str) -> None:
        san = _SUFFIX.sub("", text, count=1)
        if not san:
            return
        try:
            move = board.parse_san(san)
        except chess.AmbiguousMoveError:
            fault = "can be made by more than one piece; say from which file or rank"
        except chess.IllegalMoveError:
            fault = "is not legal"
        except ValueError:
            if not self.begun:
                raise ScoreError(f"{_NO_GAME}, and here stands {_shown(text)}.", where) from None
            fault = "is no move in algebraic notation"
        else:
            self.moves.append(move.uci())
            board.push(move)
            return
        raise ScoreError(f"{self._move_place()}, {_shown(text)}, {fault} in the position {board.fen()}.", where)

    def _move_place(self) -> str:
        board = self._board or chess.Board()
        side = "White" if board.turn else "Black"
        return f"game {self.number}, move {board.fullmove_number} of {side}"


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else text[:37] + "...")
