"""spaCy loaded without its command line, which is a third of what `import spacy` loads and which nothing here calls."""

from __future__ import annotations

import gc
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import ModuleType
from typing import Any

from aligner.collection import collection_paused


def load_spacy() -> None:
    """Import spaCy, unless it is imported already; call it before any `from spacy import ...`.

    spaCy's `__init__` takes `info` from `spacy.cli.info`, and with it all commands, HTTP clients and project tools.
    Here that name is taken from a placeholder, which loads the real one when it is called. Everything else is spaCy's
    own, `import spacy.cli` afterwards too.
    """
    if "spacy" in sys.modules:
        return
    with collection_paused():
        try:
            with _placeholders():
                import spacy
        except (ImportError, AttributeError):  # a version that takes more from its command line
            import spacy  # noqa: F401
        if not gc.get_freeze_count():  # the 100,000 objects that an import makes stay: they count as old at once
            gc.freeze()
            gc.unfreeze()


@contextmanager
def _placeholders() -> Iterator[None]:
    """Modules that stand for spaCy's command line while spaCy is imported, and are gone afterwards."""
    package, command = ModuleType("spacy.cli"), ModuleType("spacy.cli.info")
    vars(command)["info"] = _info
    stand_ins = {module.__name__: module for module in (package, command) if module.__name__ not in sys.modules}
    sys.modules.update(stand_ins)
    try:
        yield
    finally:
        for name in stand_ins:
            del sys.modules[name]


def _info(*arguments: Any, **options: Any) -> Any:
    """`spacy.info`: loads spaCy's command line, and answers."""
    from spacy.cli.info import info

    return info(*arguments, **options)
