"""The archive: `aligner catalogue add`, `remove`, `list`, `check`, `summary`."""

from __future__ import annotations

import dataclasses
import json
from pathlib import Path
from typing import Annotated

import typer

from aligner.cli.terminal import put, say
from aligner.errors import AlignerError, InputError
from aligner.files import check_outputs, write_files
from aligner.record.printing import clean, clock

Address = Annotated[
    str | None,
    typer.Option(
        "--catalogue",
        metavar="FILE|postgresql://...",
        help="The catalogue; else ALIGNER_CATALOGUE, else one in your data folder.",
    ),
]
_Out = Annotated[Path | None, typer.Option("-o", "--out", metavar="FILE", help="Else standard output.")]


def catalogue() -> typer.Typer:
    """The verbs of the catalogue."""
    app = typer.Typer(
        help="Keep talks in a catalogue, in which `aligner find` finds every moment.", no_args_is_help=True,
        rich_markup_mode=None,
    )  # fmt: skip
    app.command("add")(add)
    app.command("remove")(remove)
    app.command("list")(list_talks)
    app.command("check")(check)
    app.command("summary")(summary)
    return app


def add(
    records: Annotated[
        list[Path], typer.Argument(metavar="RECORD.json...|FOLDER", help="Records that `aligner align --json` wrote.")
    ],
    address: Address = None,
    quiet: Annotated[bool, typer.Option("--quiet", "-q", help="No line for each talk.")] = False,
) -> None:
    """Add talks; a talk that is there already is replaced."""
    from aligner.catalogue.intake import prepare_files, record_files
    from aligner.catalogue.store import open_catalogue

    files = record_files(records)
    failures: list[AlignerError] = []

    def failed(error: AlignerError) -> None:
        failures.append(error)
        say(clean(str(error)))

    talks = mentions = 0
    with open_catalogue(address, make=True) as store:
        for added in store.add_rows(prepare_files(files, failed)):
            talks += 1
            mentions += added.mentions
            if not quiet:
                say(clean(f"{'replaced' if added.replaced else 'added'} {added.name}: {added.mentions} mentions"))
        if not quiet:
            say(f"{talks:,} talks with {mentions:,} mentions are now in {store.address}")
    if failures:
        raise InputError(f"{len(failures)} of {len(files)} records could not be added; the others were.")


def remove(
    names: Annotated[list[str], typer.Argument(metavar="NAME...", help="As `aligner catalogue list` shows them.")],
    address: Address = None,
) -> None:
    """Take talks out."""
    from aligner.catalogue.store import open_catalogue

    with open_catalogue(address) as store:
        known = {talk.name for talk in store.talks()}
        full = [name if name in known else str(Path(name).resolve()) for name in names]
        missing = [name for name, path in zip(names, full, strict=True) if path not in known]
        if missing:
            what = f"there is no talk {missing[0]!r}, so nothing was taken out; see `aligner catalogue list`."
            raise InputError(what, store.address)
        for name in store.remove(full):
            say(clean(f"removed {name}"))


def list_talks(
    address: Address = None,
    form: Annotated[str, typer.Option("--format", metavar="table|json", help="How to list them.")] = "table",
) -> None:
    """List the talks."""
    from aligner.catalogue.store import open_catalogue

    _form(form, ("table", "json"))
    with open_catalogue(address) as store:
        talks = store.talks()
    if form == "json":
        put(json.dumps([dataclasses.asdict(talk) for talk in talks], ensure_ascii=False, indent=1) + "\n")
        return
    for talk in talks:
        title = f"  {talk.title}" if talk.title else ""
        put(clean(f"{talk.name}  {clock(talk.seconds)}  {talk.mentions} mentions{title}") + "\n")


def check(address: Address = None) -> None:
    """Check that the catalogue is whole, and whether captions have changed since."""
    from aligner.catalogue.checking import captions_changed, damage
    from aligner.catalogue.store import open_catalogue

    with open_catalogue(address) as store:
        faults = 0
        for fault in damage(store):
            faults += 1
            put(clean(fault) + "\n")
        for name, how in captions_changed(store):
            what = {
                "changed": "the captions have changed since; align and add the talk again",
                "missing": "the captions are not beside the record any more",
            }.get(how, "the captions cannot be read any more")
            put(clean(f"{name}: {what}") + "\n")
        talks = len(store.talks())
        if faults:
            raise InputError(f"the catalogue is damaged in {faults} place{'s' if faults > 1 else ''}.", store.address)
        say(f"{talks:,} talks, all whole")


def summary(
    address: Address = None,
    form: Annotated[str, typer.Option("--format", metavar="table|json|picture", help="How to show it.")] = "table",
    out: _Out = None,
) -> None:
    """The archive at a glance; the picture is SVG."""
    from aligner.catalogue.store import open_catalogue
    from aligner.catalogue.summary import picture, summarise

    _form(form, ("table", "json", "picture"))
    if out is not None:
        check_outputs([out])
    with open_catalogue(address) as store:
        whole = summarise(store)
    if form == "picture":
        text = picture(whole)
    elif form == "json":
        text = json.dumps(dataclasses.asdict(whole), ensure_ascii=False, indent=1) + "\n"
    else:
        lines = [
            f"{whole.talks:,} talks with {whole.games:,} games in {whole.hours:,.1f} hours: {whole.words:,} words, "
            f"{whole.mentions:,} mentions, {whole.positions:,} positions",
            "most discussed positions (talks)",
            *(f"  {times:>6,}  {fen}" for fen, times in whole.discussed),
            "openings (games)",
            *(f"  {times:>6,}  {eco} {name}" for eco, name, times in whole.openings),
            "misnamed, by kind and cause",
            *(f"  {times:>6,}  {kind} ({cause})" for kind, cause, times in whole.misnamed),
        ]
        text = "\n".join(lines) + "\n"
    if out is None:
        put(text)
    else:
        write_files({out: text})


def _form(form: str, known: tuple[str, ...]) -> None:
    if form not in known:
        raise InputError(f"there is no format {form!r}; choose one of {', '.join(known)}.", "--format")
