"""Phrases that tell several moves at once: which of the moves that they fit are meant."""

from __future__ import annotations

import chess
import pytest
from search.invented_talks import node_after, uci_of, words_of

from aligner.prices.prices import read_prices
from aligner.search.fits import Fits
from aligner.search.lines import Lines
from aligner.speech.listen import listen


# What is usual after these moves, and which pieces recapture: common practice (opening theory, exchanges).
@pytest.mark.parametrize(("before", "text", "after"), [
    ("d4 d5 c4 e6", "knights out", "Nc3 Nf6"),
    ("e4 e5", "both knights out", "Nf3 Nc6"),
    ("e4 e5 Nf3 Nc6 Bb5 a6", "trades", "Bxc6 dxc6"),
])  # fmt: skip
@pytest.mark.parametrize("score", [False, True])
def test_the_likeliest_of_the_further_moves_is_meant(before: str, text: str, after: str, score: bool) -> None:
    game = uci_of(f"{before} {after}")
    told = len(before.split())
    lines = Lines(chess.Board(), game if score else ())
    fits = Fits(lines, read_prices(None, "game"))
    speech = listen(words_of(text), [])
    spoken = next(one for one in speech.stretches[0].spoken if len(one.phrase.moves) == 2)
    chain = fits.chain(node_after(lines, f"{before} {after.split()[0]}"), spoken)
    assert chain is not None and tuple(str(one.move) for one in chain[0]) == game[told:]
    assert chain == fits.chains(chain[0][0], spoken, 3)[0]


def test_ways_are_told_apart_and_none_is_told_twice() -> None:
    lines = Lines(chess.Board(), ())
    fits = Fits(lines, read_prices(None, "game"))
    spoken = next(one for one in listen(words_of("knights out"), []).stretches[0].spoken if len(one.phrase.moves) == 2)
    ways = fits.chains(node_after(lines, "Nf3"), spoken, 3)
    assert str(ways[0][0][-1].move) == "g8f6"
    assert len({way[0] for way in ways}) == len(ways) == 3
