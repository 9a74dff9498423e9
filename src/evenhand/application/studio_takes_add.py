"""A hit that was not found, looked up in the recording where a teacher says that it is.

Conventions: times in seconds of the recording, levels in dB re full scale, as in the JSON of docs/json.md.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import cast

import numpy as np
from numpy.typing import NDArray

from evenhand.application.heard_again import heard_take_of
from evenhand.application.ports import MidiTake, OpensTakes
from evenhand.application.studio_takes_correct import Correction
from evenhand.errors import WrongOptions

NEAR_S = 0.011  # the sound's rise is looked for this near the moment that is said


def in_the_sound(correction: Correction, heard_json: str, path: Path, opens: OpensTakes) -> Correction:
    """Return a hit that is added, with its time and its level as the recording has them.

    It is measured beside those that were heard, whose attacks show what a hit looks like.
    """
    from evenhand.listening.attack import time_hits

    take = opens(path)
    if isinstance(take, MidiTake):
        raise WrongOptions(got="a hit to be added to a MIDI file", must_be="a recording of sound")
    seconds = len(take.samples) / take.rate_hz
    if not 0 < correction.time_s < seconds:
        got = f"a hit at {correction.time_s:g} s"
        raise WrongOptions(got=got, must_be=f"within the take's {seconds:.1f} s")
    heard = heard_take_of(heard_json).heard
    times = np.array(sorted([correction.time_s, *(hit.time_s for hit in heard.hits)]))
    timed = time_hits(cast("NDArray[np.float32]", take.samples), take.rate_hz, times)
    at = int(np.flatnonzero(times == correction.time_s)[0])
    near = abs(float(timed.times_s[at]) - correction.time_s) < NEAR_S
    time_s = float(timed.times_s[at]) if near else correction.time_s
    return replace(correction, time_s=time_s, level_db=float(timed.levels_db[at]))
