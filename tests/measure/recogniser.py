"""Moves as a real recogniser mishears them: `python tests/measure/recogniser.py TALKS... --model TALKS... -o FOLDER`.

Speaks moves of marked-up talks with the words around them (espeak-ng), lets a recogniser write them down (PocketSphinx
with its English sounds; its bigrams of words come from other talks, given by --model), and writes NAME.json: the talk's
words, each as it was heard, "" where nothing was. `restore.py --heard FOLDER` measures on them. Needs the programs
espeak-ng and sox and the package pocketsphinx; what it wrote is kept in fixtures/talks/heard, so no test needs them.
"""

from __future__ import annotations

import argparse
import difflib
import json
import math
import random
import subprocess
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import talkscript

from aligner.speech.sounds import sound_table

BEFORE, AFTER = 3, 2
"""Words around a move that are spoken with it."""
DISCOUNT = 0.7
"""Of each bigram's count, for those never seen (absolute discounting, Ney et al. 1994; the value from memory)."""
VOICES = ("en-us", "en-gb", "en-gb-scotland", "en-us+f3")
RATE = 16000
"""Samples a second."""


def spoken(word: str) -> list[str]:
    """A word of captions as it is said."""
    core = word.strip(".,;:!?\"'()[]-").lower()
    if len(core) == 2 and core[0] in "abcdefgh" and core[1] in "12345678":
        return [core[0], sound_table().digits[core[1]]]
    return [part for part in core.replace("-", " ").split() if part]


def bigrams(sentences: Iterable[Sequence[str]]) -> str:
    """A bigram model of the sentences, in the ARPA format that recognisers read."""
    ones: Counter[str] = Counter()
    twos: dict[str, Counter[str]] = defaultdict(Counter)
    for sentence in sentences:
        words = ["<s>", *sentence, "</s>"]
        ones.update(words[1:])
        for first, second in zip(words, words[1:], strict=False):
            twos[first][second] += 1
    total = sum(ones.values()) + len(ones)
    share = {word: (count + 1) / total for word, count in ones.items()}
    lines = ["\\data\\", f"ngram 1={len(share) + 1}", f"ngram 2={sum(map(len, twos.values()))}", "", "\\1-grams:"]
    for word in ["<s>", *sorted(share)]:
        after = twos.get(word, Counter())
        rest = 1 - sum(share[then] for then in after)
        spare = DISCOUNT * len(after) / max(sum(after.values()), 1)
        back = math.log10(spare / rest) if after and rest > 0 else 0.0
        lines.append(f"{math.log10(share[word]) if word in share else -99:.4f} {word} {back:.4f}")
    lines += ["", "\\2-grams:"]
    for first in sorted(twos):
        size = sum(twos[first].values())
        lines += [f"{math.log10((n - DISCOUNT) / size):.4f} {first} {then}" for then, n in sorted(twos[first].items())]
    return "\n".join([*lines, "", "\\end\\", ""])


def sentences_of(script: talkscript.Talk) -> list[list[str]]:
    found: list[list[str]] = [[]]
    for word in script.words:
        found[-1] += spoken(word)
        if word[-1:] in ".!?":
            found.append([])
    return [sentence for sentence in found if sentence]


def sound(text: str, voice: str, folder: Path) -> bytes:
    """The text spoken: 16-bit samples."""
    said, wave = folder / "said.wav", folder / "wave.raw"
    subprocess.run(["espeak-ng", "-v", voice, "-s", "150", "-w", str(said), text], check=True)
    subprocess.run(["sox", str(said), "-r", str(RATE), "-c", "1", "-b", "16", "-e", "signed", str(wave)], check=True)
    return wave.read_bytes()


def written(decoder: Any, samples: bytes) -> list[str]:
    """What the recogniser writes down."""
    decoder.start_utt()
    decoder.process_raw(samples, full_utt=True)
    decoder.end_utt()
    found = decoder.hyp()
    return found.hypstr.split() if found is not None else []


def placed(words: Sequence[str], heard: Sequence[str]) -> list[str]:
    """For each word, what was heard in its place."""
    said = [(part, index) for index, word in enumerate(words) for part in spoken(word)]
    found: list[list[str]] = [[] for _ in words]
    matcher = difflib.SequenceMatcher(None, [part for part, _ in said], list(heard), autojunk=False)
    for kind, a, b, c, d in matcher.get_opcodes():
        if kind == "insert":
            found[said[min(a, len(said) - 1)][1]] += heard[c:d]
            continue
        for place in range(a, b):
            last = d if place == b - 1 else min(c + place - a + 1, d)
            found[said[place][1]] += heard[min(c + place - a, d) : last]
    return [" ".join(parts) for parts in found]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("talks", nargs="+", type=Path)
    parser.add_argument("--model", nargs="+", type=Path, required=True)
    parser.add_argument("--most", type=int, default=60, help="moves of each talk")
    parser.add_argument("-o", "--output", type=Path, required=True)
    arguments = parser.parse_args()
    from pocketsphinx import Decoder

    def files_of(paths: list[Path]) -> list[Path]:
        return [file for path in paths for file in (sorted(path.glob("*.talk")) if path.is_dir() else [path])]

    def script_of(file: Path) -> talkscript.Talk:
        script = talkscript.parse(file.read_text(encoding="utf-8"), file.name)
        talkscript.clock(script)
        return script

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        model = folder / "words.arpa"
        known = {line.split()[0] for line in Path(Decoder().config["dict"]).read_text(encoding="utf-8").splitlines()}
        told = [sentence for file in files_of(arguments.model) for sentence in sentences_of(script_of(file))]
        model.write_text(bigrams([[w for w in sentence if w in known] for sentence in told]), encoding="utf-8")
        decoder = Decoder(lm=str(model), samprate=RATE)
        for file in files_of(arguments.talks):
            script = script_of(file)
            draw = random.Random(file.stem)
            words = list(script.words)
            moves = [m for m in script.mentions if m.kind in ("move", "again") and m.w1 > m.w0]
            voice = draw.choice(VOICES)
            for m in sorted(draw.sample(moves, min(arguments.most, len(moves))), key=lambda m: m.w0):
                first, last = max(m.w0 - BEFORE, 0), min(m.w1 + AFTER, len(words))
                text = " ".join(part for word in script.words[first:last] for part in spoken(word))
                heard = placed(script.words[first:last], written(decoder, sound(text, voice, folder)))
                for index in range(m.w0, m.w1):
                    if spoken(script.words[index]) != heard[index - first].split():
                        words[index] = heard[index - first]
                print(f"{file.stem}: {text!r} -> {' '.join(words[m.w0 : m.w1])!r}", file=sys.stderr, flush=True)
            (arguments.output / f"{file.stem}.json").write_text(json.dumps(words, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
