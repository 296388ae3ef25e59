"""spaCy is loaded without its command line, and is spaCy all the same."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def run(code: str, folder: Path = ROOT) -> str:
    """What a program prints in a new process, with the folder before all others in its path."""
    program = f"import sys; sys.path[:0] = [{str(folder)!r}, {str(ROOT)!r}]; {code}"
    return subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True).stdout.strip()


def test_the_lexicon_loads_no_command_line() -> None:
    loaded = "print(*[name for name in sys.modules if name.startswith('spacy.cli') or name in ('requests', 'weasel')])"
    assert run(f"from aligner.speech.lexicon import lexicon; lexicon(); {loaded}") == ""


def test_what_spacy_offers_stays() -> None:
    # spaCy itself, imported in the plain way, is what is compared with
    uses = (
        "import spacy; import spacy.cli; "
        "print(sorted(vars(spacy)), spacy.info(silent=True), spacy.cli.info.__module__, "
        "[token.text for token in spacy.blank('en')('It isn\\'t e4-e5.')])"
    )
    assert run(f"from aligner.speech.loading import load_spacy; load_spacy(); {uses}") == run(uses)


def test_a_spacy_that_takes_more_from_its_command_line_is_loaded_whole(tmp_path: Path) -> None:
    commands = tmp_path / "spacy" / "cli"
    commands.mkdir(parents=True)
    (tmp_path / "spacy" / "__init__.py").write_text("from .cli import download\nfrom .cli.info import info\n")
    (commands / "__init__.py").write_text("def download():\n    return 'real'\n")
    (commands / "info.py").write_text("def info():\n    return 'real'\n")
    code = "from aligner.speech.loading import load_spacy; load_spacy(); import spacy; "
    assert run(f"{code} print(spacy.__file__); print(spacy.download(), spacy.info())", tmp_path).split("\n") == [
        str(tmp_path / "spacy" / "__init__.py"),
        "real real",
    ]


def test_the_search_for_garbage_goes_on() -> None:
    code = "import gc; from aligner.speech.loading import load_spacy; "
    assert run(f"{code} load_spacy(); print(gc.isenabled())") == "True"
    assert run(f"{code} gc.disable(); load_spacy(); print(gc.isenabled())") == "False"
