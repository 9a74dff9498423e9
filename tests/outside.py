"""Data of others that is too large or not ours to keep here, where there is a copy of it.

``EVENHAND_DATA`` names the folder; else ``shared/data`` beside this checkout is looked at. It holds
``groove/``, MIDI files of the Groove MIDI Dataset, and ``tapping/asynchronies.csv``. Tests that want it
are skipped without.
"""

from __future__ import annotations

import os
from pathlib import Path

DATA = Path(os.environ.get("EVENHAND_DATA") or Path(__file__).parents[2] / "shared" / "data")
GROOVES = DATA / "groove"
TAPPING = DATA / "tapping" / "asynchronies.csv"
