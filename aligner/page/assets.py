"""Templates, styles and scripts of the page, made into what one file can hold."""

from __future__ import annotations

import base64
import hashlib
import re
from functools import cache
from importlib.resources import files

import jinja2

_IMPORT = re.compile(r'^import \{[^}]*\} from "\./([a-z]+)\.js";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export (?=(?:async )?(?:function|const|class) )", re.MULTILINE)


@cache
def _environment() -> jinja2.Environment:
    return jinja2.Environment(
        loader=jinja2.PackageLoader("aligner.page"),
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
        undefined=jinja2.StrictUndefined,
    )


def template(name: str) -> jinja2.Template:
    """A template by its file name; what is put into it is escaped."""
    return _environment().get_template(name)


def _read(name: str) -> str:
    return (files("aligner.page") / "assets" / name).read_text(encoding="utf-8")


def style(*names: str) -> str:
    """Style sheets one after the other."""
    return "".join(map(_read, names))


@cache
def script(name: str) -> str:
    """A module and all it imports as one script, each after those it needs.

    Only one form of import and export is known: `import { a, b } from "./name.js";` on a line, and `export` in front
    of a function, a class or a const. All names of all modules share one scope.
    """
    done: dict[str, str] = {}
    _take(name, done)
    return "".join(done.values())


def _take(name: str, done: dict[str, str]) -> None:
    text = _read(f"{name}.js")
    for needed in _IMPORT.findall(text):
        if needed not in done:
            _take(needed, done)
    done[name] = f"// {name}.js\n{_EXPORT.sub('', _IMPORT.sub('', text))}"


def digest(text: str) -> str:
    """A source expression for inline text: Content Security Policy, level 3, 2.3.1, `hash-source`."""
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode()}'"
