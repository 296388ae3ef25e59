"""Makes scripted and invented records importable."""

import sys
from pathlib import Path

sys.path += [str(Path(__file__).parents[1] / room) for room in ("chapters", "record")]
