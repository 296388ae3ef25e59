"""A live talk: `aligner follow`."""

from __future__ import annotations

import signal
import sys
import time
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from aligner.cli.terminal import put, say
from aligner.errors import CaptionsError, InputError
from aligner.files import check_outputs, write_files
from aligner.record.printing import clean, clock

if TYPE_CHECKING:
    from aligner.captions.words import Captions
    from aligner.follow.follower import Follower, Update
    from aligner.follow.source import GrowingFile, GrowingInput

_QUIET_FILE = 0.5
"""Seconds after which the last line of a file is taken as it stands, line end or not."""


def follow(
    captions: Annotated[Path, typer.Argument(metavar="CAPTIONS|-", help="Captions that grow; - for standard input.")],
    game: Annotated[
        Path | None, typer.Option("--game", metavar="SCORE.pgn", help="The game's score, where there is one.")
    ] = None,
    game_number: Annotated[
        int | None, typer.Option("--game-number", metavar="N", min=1, help="Which game of the score.")
    ] = None,
    fen: Annotated[
        str | None, typer.Option("--fen", metavar="FEN", help="The start position, where there is no score.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("-o", "--out", metavar="OUT.pgn", help="The annotated PGN, kept up to date.")
    ] = None,
    json: Annotated[
        Path | None, typer.Option("--json", metavar="OUT.json", help="The alignment record, kept up to date.")
    ] = None,
    title: Annotated[str | None, typer.Option("--title", metavar="T", help="Title of the talk.")] = None,
    media: Annotated[str | None, typer.Option("--media", metavar="URL", help="Address of the sound or film.")] = None,
    prices: Annotated[
        Path | None, typer.Option("--prices", metavar="FILE", help="Other prices than the fitted ones.")
    ] = None,
    every: Annotated[
        float, typer.Option("--every", metavar="SECONDS", min=0.02, help="How often to look for new captions.")
    ] = 0.2,
    idle: Annotated[
        float | None, typer.Option("--idle", metavar="SECONDS", min=0, help="End when nothing comes so long.")
    ] = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="Don't tell what becomes final.")] = False,
) -> None:
    """Follow a talk while it is spoken: record and PGN grow with the captions.

    A decision is told on standard error once it is final. The talk ends with its input, with Ctrl-C or with --idle;
    the PGN goes to standard output then, where no -o is given.
    """
    standard_input = str(captions) == "-"
    outputs = [path for path in (out, json) if path is not None]
    inputs = [path for path in (game, prices) if path is not None]
    check_outputs(outputs, inputs=inputs if standard_input else [captions, *inputs])
    if game is not None and fen is not None:
        raise InputError("the score has its own start position; leave out --fen.")
    if game_number is not None and game is None:
        raise InputError("--game-number chooses a game of a score; give the score too, with --game.")

    # what follows loads slowly
    from aligner.follow.source import GrowingFile, GrowingInput
    from aligner.pgn.fen import parse_fen
    from aligner.pgn.reader import read_scores

    start_fen = parse_fen(fen) if fen is not None else None
    scores = read_scores(game) if game is not None else ()
    source = GrowingInput(sys.stdin.buffer) if standard_input else GrowingFile(captions)

    from aligner.follow.follower import Follower, one_score

    score = one_score(scores, game_number, game.name) if game is not None else None
    follower = Follower(score, start_fen=start_fen, title=title, url=media, prices=prices)
    name = "standard input" if standard_input else captions.name
    with suppress(ValueError):
        signal.signal(signal.SIGTERM, signal.default_int_handler)
    _Followed(source, follower, name, out, json, quiet).run(every, idle)


class _Followed:
    """The talk, its source and its outputs."""

    def __init__(
        self,
        source: GrowingFile | GrowingInput,
        follower: Follower,
        name: str,
        out: Path | None,
        json: Path | None,
        quiet: bool,
    ) -> None:
        self.source = source
        self.follower = follower
        self.name = name
        self.out = out
        self.json = json
        self.quiet = quiet
        self.data = b""
        self.talk: Captions | None = None
        self.trouble = CaptionsError("nothing came; are these the captions?", name)

    def run(self, every: float, idle: float | None) -> None:
        """Follow until the input ends, nothing comes for `idle` seconds, or the user ends it."""
        from aligner.follow.source import whole_lines

        last, read = time.monotonic(), b""
        try:
            while True:
                ended = self.source.ended
                data = self.source.take()
                now = time.monotonic()
                if data is not None:
                    self.data, last = data, now
                whole = self.data if now - last > _QUIET_FILE else whole_lines(self.data)
                if whole != read:
                    read = whole
                    self._show(whole)
                elif data is None and (ended or (idle is not None and now - last >= idle)):
                    break
                else:
                    time.sleep(every)
        except KeyboardInterrupt:
            # the usual way to end
            pass
        self._end()

    def _parse(self, data: bytes) -> bool:
        from aligner.captions.decoding import decode
        from aligner.captions.reading import parse_captions

        try:
            text, _ = decode(data, self.name)
            self.talk = parse_captions(text, self.name)
        except CaptionsError as error:
            # a file that has only its head so far is no captions yet
            self.trouble = error
            return False
        return True

    def _show(self, data: bytes) -> None:
        if self._parse(data) and self.talk is not None:
            self._write(self.follower.update(self.talk))

    def _end(self) -> None:
        self._parse(self.data)
        if self.talk is None:
            raise self.trouble
        update = self.follower.update(self.talk, ended=True)
        self._write(update)
        if self.out is None:
            from aligner.pgn.writer import write_pgn

            put(write_pgn(update.record))

    def _write(self, update: Update) -> None:
        from aligner.pgn.writer import write_pgn
        from aligner.record.document import record_to_json
        from aligner.tree.wording import numbered

        texts: dict[Path, str] = {}
        if self.json is not None:
            texts[self.json] = record_to_json(update.record)
        if self.out is not None:
            texts[self.out] = write_pgn(update.record)
        write_files(texts)
        if self.quiet:
            return
        if update.again:
            say("the captions changed in what was read already; the talk was read anew.")
        for choice in update.decided:
            if choice.decision.nodes:
                moves = " ".join(numbered(node) for node in choice.decision.nodes)
                first, past = choice.words
                words = update.record.words[first:past]
                said = clean(" ".join(word.text for word in words))[:60]
                say(f'{clock(words[0].start)} {moves} ({choice.probability:.2f}) "{said}"')
