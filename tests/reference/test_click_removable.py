"""Our click, sounding in the recording, is found again and taken out.

By construction: invented players, strokes and clicks at known times, the click's peak from 6 dB under the
strokes' to 6 dB over. A hit counts within 10 ms (mir_eval's matching). Bounds: what an ear can tell of timing
is 6 ms (Friberg & Sundberg 1995), so a tenth of it for the middle of the asynchronies' errors; one stroke in
fifty may be lost or added. Many more takes, and those that it does not manage: ``python -m benchmarks.click``
and ``docs/click.md``.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from benchmarks.click import SITUATIONS, Case, Tally, hear
from evenhand.synthesis.instruments import Instrument

UNDER_ALL, EVERY_OTHER, ACCENTED = SITUATIONS
BY_NAME = {
    "under all": UNDER_ALL,
    "every other": EVERY_OTHER,
    "accented": ACCENTED,
    "all alike": replace(ACCENTED, pattern="plain"),
}


@pytest.mark.parametrize(
    ("level_db", "situation", "player", "instrument", "room"),
    [
        (-6.0, "every other", "late", "pad", True),
        (-6.0, "accented", "late", "snare", False),
        (-3.0, "under all", "late", "snare", True),
        (0.0, "under all", "exact", "pad", True),
        (0.0, "accented", "exact", "snare", True),
        (3.0, "every other", "late", "snare", True),
        (6.0, "all alike", "late", "pad", True),
        (6.0, "accented", "exact", "snare", False),
    ],
)
def test_a_click_in_the_recording_is_found_and_taken_out(
    tmp_path: Path,
    level_db: float,
    situation: str,
    player: str,
    instrument: Instrument,
    room: bool,  # noqa: FBT001 - a table's column
) -> None:
    tally = Tally()
    hear(Case("ours", level_db, BY_NAME[situation], player, instrument, room, 5), tmp_path, tally)
    assert tally.f1 > 0.98
    assert tally.on_click <= 1
    assert tally.clicks_matched >= 0.95 * tally.clicks
    assert tally.clicks_heard == tally.clicks_matched
    assert np.median(np.abs(tally.click_errors_ms)) < 0.05
    assert np.median(np.abs(tally.asynchrony_errors_ms)) < 0.6
