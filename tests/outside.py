"""Data of others that is too large or not ours to keep here, where there is a copy of it.

``EVENHAND_DATA`` names the folder. It holds ``groove/``, MIDI files of the Groove MIDI Dataset,
``tapping/asynchronies.csv``, and ``real-strokes/``, one drum by five microphones. Tests that want them are
skipped where it is not set, or names no such folder.
"""

from __future__ import annotations

import os
from pathlib import Path

DATA = Path(os.environ.get("EVENHAND_DATA") or "no-data-of-others")
GROOVES = DATA / "groove"
TAPPING = DATA / "tapping" / "asynchronies.csv"
STROKES = DATA / "real-strokes"
