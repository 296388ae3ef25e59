"""Moves misnamed beside the words that the alignment took for them: "queen takes f6" of a rook, read as "takes f6".

Where a misnamed part would cost the alignment dear it leaves that part out, and the rest fits the move. What stands
right before or behind a mention, where the grammar of moves has a place for it, is held against the move.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import chess

from aligner.captions.naming import Meaning, meaning
from aligner.errata.cause import cause
from aligner.errata.claim import LEAST_MENTION, Claim, Hearing, sure_of
from aligner.record.model import Meant, Mention
from aligner.search.matching import LETTERS
from aligner.speech.atoms import LETTERS_ALONE, Atoms
from aligner.speech.lexicon import Lexicon, lexicon
from aligner.speech.neighbours import PAUSE

SURE_MENTION = 0.9
"""How sure a mention must be before what stands beside it is held against its move; see `sure_of`."""
_CONFIDENCE = 0.9
_WING_BEFORE = 2
"""Tokens before castling that may name the wing."""


def misnamed_beside(hearing: Hearing) -> Iterator[Claim]:
    """A piece or a file before a mention, or a square behind it, that the move of the game contradicts."""
    discussion, speech = hearing.discussion, hearing.speech
    words = lexicon()
    atoms = speech.atoms()
    sure = (mention for mention in discussion.mentions if mention.confidence >= LEAST_MENTION)
    covered = {word for mention in sure for word in range(*mention.words)}
    covered -= {m.words[1] - 1 for m in discussion.mentions if _behind_a_comma(hearing, atoms, m)}
    for mention in discussion.mentions:
        node = discussion.nodes[mention.nodes[-1]]
        plain = mention.kind == "move" and len(mention.nodes) == 1 and sure_of(mention) >= SURE_MENTION
        start, end = map(speech.first_token, mention.words)
        if not plain or not node.main or node.parent is None or start == end:
            continue
        parent = discussion.nodes[node.parent]
        if parent.parent is not None and not parent.times:
            continue  # what stands before may have told that move: "knight, c6"
        board = discussion.boards[node.parent]
        meant = meaning(board, chess.Move.from_uci(node.uci or ""))
        found = _wing(atoms, start, end, meant) if meant.castles else _within(atoms, start, end, meant)
        if found is None and mention.words[0] - 1 not in covered:
            found = _before(hearing, atoms, words, start, end, meant, board)
        if found is None and mention.words[1] not in covered:
            promotes = len(node.uci or "") > 4
            found = _behind(hearing, atoms, start, end, meant, promotes)
        if found is not None and not _put_right_at_once(hearing, atoms, max(end, found[2])):
            kind, low, high = found
            yield _claim(hearing, mention, kind, low, high, meant, board)


def _put_right_at_once(hearing: Hearing, atoms: Atoms, end: int) -> bool:
    """Whether what ends before a token is taken back, and a part of a move named right behind: "sorry, queenside"."""
    at = end
    while (back := hearing.wordings.at(at, "taken_back")) is not None:
        at = back.end
    parts = [atom for kind in ("piece", "square", "castle") for atom in atoms.at(at, kind) if atom.value != "any"]
    named = bool(parts) or hearing.wordings.at(at, "wing") is not None
    return at > end and not hearing.speech.tokens[end - 1].stop and named


def _wing(atoms: Atoms, start: int, end: int, meant: Meaning) -> tuple[str, int, int] | None:
    """The other wing, named beside words that were taken for castling alone: "the big castle", "castles long"."""
    wing = "short" if meant.target[0] == "g" else "long"
    for at in range(max(start - _WING_BEFORE, 0), start + 1):
        for atom in atoms.at(at, "castle"):
            if atom.value in ("short", "long") and atom.value != wing and atom.end >= end:
                return "castling", at, atom.end
    return None


def _within(atoms: Atoms, start: int, end: int, meant: Meaning) -> tuple[str, int, int] | None:
    """Another square that the piece is said to come from: "the rook from a1 goes to e1" of the one on f1."""
    for at in range(start, end - 1):
        if any(link.value == "from" for link in atoms.at(at, "link")):
            named = [atom.value for atom in atoms.at(at + 1, "square") if not atom.terms and atom.end < end]
            if named and meant.source not in named and meant.target not in named:
                return "origin", start, end
    return None


def _before(
    hearing: Hearing, atoms: Atoms, words: Lexicon, start: int, end: int, meant: Meaning, board: chess.Board
) -> tuple[str, int, int] | None:
    """Another piece, or another pawn's file, named as the one that moves."""
    tokens, at = hearing.speech.tokens, start - 1
    if at < 0 or tokens[at].stop or tokens[at].comma or tokens[start].gap >= PAUSE or meant.castles:
        return None
    file = tokens[at].text
    pawn = meant.piece == "P" and any(atom.value == "P" for atom in atoms.at(start, "piece"))
    pawn = pawn and any(atoms.at(token, kind) for token in range(start + 1, end) for kind in ("go", "take"))
    if pawn and file in LETTERS_ALONE and file != meant.origin and at and tokens[at - 1].text in words.context.articles:
        return "origin", at, end  # "the g pawn goes to h5"
    begins = at > 0 and tokens[at - 1].text in words.context.articles and _begins(hearing, atoms, at - 1)
    if (
        at
        and not (tokens[at - 1].stop or begins)
        and (_holds(tokens[at - 1].text, words) or _in_a_row(hearing, atoms, at - 1))
    ):
        return None  # "eyes the rook, takes e7"; "knight, knight, c6"
    takes, target = bool(atoms.at(start, "take")), any(a.value == meant.target for a in atoms.at(start, "square"))
    squares = target or any(atoms.at(token, "square") for token in range(start, end))
    named = [atom.value for atom in atoms.at(at, "piece") if not atom.terms and atom.value in LETTERS]
    subject = begins or (at > 0 and tokens[at - 1].comma) or _begins(hearing, atoms, at)
    if not (takes or target) or not (squares or (subject and named and not _may_take(board, named))):
        return None  # "free horse? Takes"
    if named and meant.piece not in named and not tokens[at].text.endswith("s"):
        return "piece", at, end
    if takes and meant.piece == "P" and file in LETTERS_ALONE and file != meant.origin:
        return "origin", at, end
    return None


def _behind_a_comma(hearing: Hearing, atoms: Atoms, mention: Mention) -> bool:
    """Whether a mention ends with a piece that a comma parts from it: "knight takes, bishop" of "bishop takes"."""
    last = hearing.speech.first_token(mention.words[1]) - 1
    return last > 0 and hearing.speech.tokens[last - 1].comma and bool(atoms.at(last, "piece"))


def _may_take(board: chess.Board, pieces: Sequence[str]) -> bool:
    """Whether a piece so named has anything to capture: then a bare capture may have been left out by the record."""
    movers = {LETTERS[piece] for piece in pieces}
    return any(board.piece_type_at(move.from_square) in movers for move in board.generate_legal_captures())


def _behind(
    hearing: Hearing, atoms: Atoms, start: int, end: int, meant: Meaning, promotes: bool
) -> tuple[str, int, int] | None:
    """Another square, named right behind a capture or a promotion that the mention ends with."""
    tokens = hearing.speech.tokens
    if end >= len(tokens) or tokens[end - 1].stop or tokens[end - 1].comma or tokens[end].gap >= PAUSE:
        return None
    named = [atom.value for token in range(start, end) for atom in atoms.at(token, "square")]
    pieces = any(atom.value == meant.piece for token in range(start, end) for atom in atoms.at(token, "piece"))
    pieces = pieces or (meant.piece == "P" and tokens[start].text == meant.origin)
    if named or not ((pieces and atoms.at(end - 1, "take")) or promotes):
        return None
    for link in atoms.at(end, "link"):
        end = link.end if link.value == "on" else end
    for atom in atoms.at(end, "square"):
        if not atom.terms and atom.value != meant.target:
            return "square", start, atom.end
    return None


def _in_a_row(hearing: Hearing, atoms: Atoms, at: int) -> bool:
    """Whether a token is a piece that tells a move by its bare name."""
    articles = lexicon().context.articles
    return bool(atoms.at(at, "piece")) and not (at and hearing.speech.tokens[at - 1].text in articles)


def _begins(hearing: Hearing, atoms: Atoms, at: int) -> bool:
    """Whether a part of a sentence begins at a token, so that nothing before makes it an object."""
    tokens = hearing.speech.tokens
    if at == 0 or tokens[at - 1].stop or tokens[at].gap >= PAUSE:
        return True
    closed = [atom for kind in ("piece", "square") for atom in atoms.at(at - 1, kind)]
    return any(atom.value != "any" and not atom.terms for atom in closed)  # "at the king the king takes"


def _holds(word: str, words: Lexicon) -> bool:
    """Whether a word makes what follows it an object of its own: "the rook", "on e7"."""
    return word in words.context.articles or word in words.context.prepositions


def _claim(
    hearing: Hearing, mention: Mention, kind: str, start: int, end: int, meant: Meaning, board: chess.Board
) -> Claim:
    node = hearing.discussion.nodes[mention.nodes[-1]]
    said = hearing.said(start, end)
    number = f"{board.fullmove_number}{'.' if board.turn else '...'}{meant.san}"
    whose = "White's" if board.turn else "Black's"
    message = f'"{said}" is not what is played here: {whose} move is {number}.'
    blame = cause(said, kind, node.uci or "", chess.piece_name(LETTERS[meant.piece]))
    sure = _CONFIDENCE * sure_of(mention)
    return Claim(start, end, kind, sure, message, board.fen(), blame, Meant(node.uci, node.san, node.id))
