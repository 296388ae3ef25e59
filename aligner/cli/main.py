"""The command `aligner`: its verbs, and the one place where errors become a sentence and an exit status.

Exit status: 0 done, 2 unusable input or usage, 3 input that does not belong together, 130 interrupted, 141 nobody
reads the output any more, 1 a fault of the program itself.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Callable, Sequence
from typing import Annotated, Any

import typer

from aligner import __version__
from aligner.cli.align import align
from aligner.cli.batch import batch
from aligner.cli.captions import captions
from aligner.cli.catalogue import catalogue
from aligner.cli.chapters import chapters
from aligner.cli.desk import desk
from aligner.cli.doubts import doubts
from aligner.cli.errata import errata
from aligner.cli.find import find
from aligner.cli.follow import follow
from aligner.cli.notes import notes
from aligner.cli.page import page
from aligner.cli.picture import picture
from aligner.cli.publish import publish
from aligner.cli.score import score
from aligner.cli.serve import serve
from aligner.cli.settle import settle
from aligner.cli.terminal import BROKEN_PIPE_STATUS, ReaderGone, say
from aligner.cli.tune import tune
from aligner.errors import AlignerError
from aligner.record.printing import clean

COMMANDS: tuple[Callable[..., None], ...] = (
    align, batch, captions, chapters, desk, doubts, errata, find, follow, notes, page, picture, publish,
    score, serve, settle, tune,
)  # fmt: skip
"""One function a verb, each in a module of its own that imports what is heavy only when it is called."""

USAGE_STATUS = 2
FAULT_STATUS = 1
INTERRUPTED_STATUS = 130

# typer brings its own copy of click or imports it, by version; in both this is the parent of every usage error
_UsageError: type[Exception] = typer.BadParameter.__mro__[2]


def _version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"aligner {__version__}")
        raise typer.Exit


def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    """Align a recorded talk about chess with its game: timed captions in, an annotated game with times out."""


def build() -> typer.Typer:
    """The command line with all its verbs."""
    app = typer.Typer(
        name="aligner",
        add_completion=False,
        # plain help: loading rich costs a tenth of a second
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_root)
    for command in COMMANDS:
        app.command()(command)
    app.add_typer(catalogue(), name="catalogue")
    return app


def main(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and end the process; `arguments` are those of the process where None."""
    gc.set_threshold(
        200_000, 20, 20
    )  # looking for cycles, of which there are hardly any, costs a fifth of an alignment
    status = run(sys.argv[1:] if arguments is None else arguments)
    gc.freeze()  # what is left goes with the process; looking through it once more costs a tenth of a second
    sys.exit(status)


def run(arguments: Sequence[str]) -> int:
    """Run the command line; returns the exit status, with what went wrong told on standard error."""
    try:
        status: Any = build()(args=list(arguments) or ["--help"], prog_name="aligner", standalone_mode=False)
    except AlignerError as error:
        return _told(str(error), error.exit_status)
    except _UsageError as error:
        return _told(_usage(error), USAGE_STATUS)
    except (KeyboardInterrupt, typer.Abort):
        return INTERRUPTED_STATUS
    except ReaderGone:
        return BROKEN_PIPE_STATUS
    except Exception as error:
        if os.environ.get("ALIGNER_TRACEBACK"):
            raise
        fault = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        what = f"a fault of the program, not of your files ({fault}); run again with ALIGNER_TRACEBACK=1 to see where."
        return _told(what, FAULT_STATUS)
    return status if isinstance(status, int) else 0


def _usage(error: Exception) -> str:
    message: str = error.format_message() if hasattr(error, "format_message") else str(error)
    context = getattr(error, "ctx", None)
    command = context.command_path if context is not None else "aligner"
    return f"{message.strip().rstrip('.')}; see '{command} --help'."


def _told(sentence: str, status: int) -> int:
    say(f"aligner: {clean(sentence)}")
    return status
