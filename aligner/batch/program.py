"""Which program made a result: a hash over every file of the package that a result depends on."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from importlib.metadata import version
from pathlib import Path

import aligner

_NO_PART = frozenset({"cli", "batch", "follow", "serve", "desk", "__pycache__"})
"""Rooms that bring results to people and change none."""


_LIBRARIES = ("chess", "spacy", "rapidfuzz")
"""Libraries that a result depends on."""


@lru_cache(maxsize=1)
def program_hash() -> str:
    """SHA-256, hexadecimal, of the version, the package's code and data, and the versions of the libraries."""
    digest = hashlib.sha256(" ".join((aligner.__version__, *(version(name) for name in _LIBRARIES))).encode())
    root = Path(aligner.__path__[0])
    for path in sorted(root.rglob("*")):
        parts = path.relative_to(root).parts
        if path.suffix in (".py", ".toml", ".json", ".tsv", ".html", ".css", ".js") and not _NO_PART & set(parts):
            digest.update("/".join(parts).encode("utf-8", "surrogateescape") + b"\0")
            digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()
