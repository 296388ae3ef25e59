"""The demo's fixed outputs: `python tests/cli/golden.py` makes them again; look at the difference before you keep it.

demo/NAME.talk is the script with the truth marked up; from it come the captions, the score and the truth, and from
those, by the command line itself, demo/expected/NAME.pgn, NAME.json and NAME.summary.txt. All of it is invented.
The outputs in README.md's example are written again too.
"""

from __future__ import annotations

import importlib.util
import json
import os
import re
import shlex
import subprocess
import sys
import tempfile
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "demo"
NAME = "rook-lift"
README = ROOT / "README.md"

_CONSOLE = re.compile(r"(?<=^```console\n).*?(?=^```$)", re.DOTALL | re.MULTILINE)


def compiled() -> dict[str, str]:
    """File name to text of what the demo's talk script gives: captions, score and truth."""
    talkscript = _talkscript()
    script = talkscript.parse((DEMO / f"{NAME}.talk").read_text(encoding="utf-8"), NAME)
    talkscript.clock(script)
    return {
        f"{NAME}.vtt": talkscript.vtt(script.words, script.times, script.head["Captions"]),
        f"{NAME}.pgn": talkscript.full_pgn(script, True),
        f"{NAME}.truth.json": json.dumps(talkscript.truth(script), indent=1) + "\n",
    }


def align_demo(folder: Path) -> subprocess.CompletedProcess[str]:
    """Run the main job on the demo, in a process of its own, with its outputs in `folder`."""
    arguments = ["demo/rook-lift.vtt", "--game", "demo/rook-lift.pgn", "--title", "The rook on the fourth rank"]
    outputs = ["-o", str(folder / f"{NAME}.pgn"), "--json", str(folder / f"{NAME}.json")]
    command = [sys.executable, "-m", "aligner", "align", *arguments, *outputs]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True, encoding="utf-8", check=False)


def example() -> str:
    """The console example of README.md: commands after "$ ", each followed by what it prints."""
    found = _CONSOLE.findall(README.read_text(encoding="utf-8"))
    if len(found) != 1:
        raise ValueError(f"README.md must hold one console example, and holds {len(found)}")
    return str(found[0])


def run_example() -> str:
    """The console example with what its commands print now."""
    commands = [line.removeprefix("$ ") for line in example().splitlines() if line.startswith("$ ")]
    shown = []
    with tempfile.TemporaryDirectory() as folder:
        (Path(folder) / "demo").symlink_to(DEMO)
        for command in commands:
            verb, _, rest = command.partition(" ")
            line = f"{shlex.quote(sys.executable)} -m aligner {rest}" if verb == "aligner" else command
            done = subprocess.run(
                line, shell=True, cwd=folder, env={**os.environ, "PYTHONPATH": str(ROOT)},
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, encoding="utf-8", check=True,
            )  # fmt: skip
            shown.append(f"$ {command}\n{done.stdout}")
    return "".join(shown)


def _talkscript() -> ModuleType:
    place = importlib.util.spec_from_file_location("talkscript", ROOT / "tests" / "measure" / "talkscript.py")
    if place is None or place.loader is None:
        raise ImportError("tests/measure/talkscript.py is missing")
    module = sys.modules.setdefault("talkscript", importlib.util.module_from_spec(place))
    place.loader.exec_module(module)
    return module


def main() -> None:
    """Make everything in demo/ again from its talk script."""
    for name, text in compiled().items():
        (DEMO / name).write_text(text, encoding="utf-8")
    expected = DEMO / "expected"
    expected.mkdir(exist_ok=True)
    done = align_demo(expected)
    (expected / f"{NAME}.summary.txt").write_text(done.stderr, encoding="utf-8")
    sys.stderr.write(done.stderr)
    text = README.read_text(encoding="utf-8")
    README.write_text(_CONSOLE.sub(lambda _: run_example(), text), encoding="utf-8")
    sys.exit(done.returncode)


if __name__ == "__main__":
    main()
