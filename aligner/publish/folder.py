"""A folder that is published into: what is in it already is never lost, its own files are replaced in one go.

Which files are its own stands in `published.json` beside them, each with the SHA-256 of what was written. A file that
somebody has changed since, or that was never written from here, is not overwritten unless asked for.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Mapping
from pathlib import Path

from aligner.errors import InputError
from aligner.files import write_files

LEDGER = "published.json"
"""The list of a folder's own files."""


def files_of(folder: Path) -> dict[str, str]:
    """The files written here before, by name, with their fingerprints; empty for a new folder.

    Raises:
        InputError: the list of them is damaged.
    """
    path = folder / LEDGER
    try:
        text = path.read_text(encoding="utf-8")
    except (FileNotFoundError, NotADirectoryError):
        return {}
    except (OSError, UnicodeDecodeError):
        text = ""
    try:
        listed = json.loads(text)["files"]
        if all(isinstance(name, str) and isinstance(digest, str) for name, digest in listed.items()):
            return dict(listed)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
        pass
    raise InputError("the list of published files is damaged; delete it, or choose another folder.", str(path))


def check_folder(folder: Path) -> None:
    """Refuse a path that can't become a folder, before any work is done.

    Raises:
        InputError: it is a file, or its own parent is none.
    """
    if folder.exists() and not folder.is_dir():
        raise InputError("this is a file; name a folder to publish into.", str(folder))
    parent = next((above for above in folder.absolute().parents if above.exists()), None)
    if parent is not None and not parent.is_dir():
        raise InputError("this is a file, so nothing can be published under it; name another folder.", str(parent))
    files_of(folder)


def write_folder(folder: Path, texts: Mapping[str, str], overwrite: bool = False) -> None:
    """Write files into a folder: all of them or none.

    Args:
        folder: made where it is missing.
        texts: by name, without folders.
        overwrite: replace also files that were not written from here, or were changed since.

    Raises:
        InputError: a file would be lost, or cannot be written.
    """
    known = files_of(folder)
    for name in texts:
        path = folder / name
        if path.is_dir():
            raise InputError("a folder of this name is in the way; move it, or publish elsewhere.", str(path))
        if overwrite or not path.exists():
            continue
        if name not in known:
            what = "this file was not published from here; choose another folder, or give --overwrite to lose it."
            raise InputError(what, str(path))
        if _digest(path.read_bytes()) != known[name]:
            what = "this file was changed after it was published; save your changes elsewhere, or give --overwrite."
            raise InputError(what, str(path))
    kept = {name: digest for name, digest in known.items() if name not in texts and (folder / name).exists()}
    new = {name: _digest(text.encode("utf-8", "replace")) for name, text in texts.items()}
    ledger = json.dumps({"version": 1, "files": dict(sorted((kept | new).items()))}, indent=1, ensure_ascii=False)
    try:
        os.makedirs(folder, exist_ok=True)
    except OSError as error:
        raise InputError(f"this folder cannot be made ({error.strerror}); choose another.", str(folder)) from None
    write_files({**{folder / name: text for name, text in texts.items()}, folder / LEDGER: ledger + "\n"})


def _digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()
