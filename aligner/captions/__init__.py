"""Captions of any supported format, read into timed words that know their place in the file."""

from aligner.captions.reading import parse_captions, read_captions
from aligner.captions.words import Captions, Cue, Problem, Span, Word

__all__ = ["Captions", "Cue", "Problem", "Span", "Word", "parse_captions", "read_captions"]
