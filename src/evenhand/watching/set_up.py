"""Look at how it was filmed, and say as values what to change.

Conventions: px of the picture as shown; luma 0 to 255; degrees; shares 0 to 1.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import numpy as np

from evenhand.arrays import median
from evenhand.film import FilmSample, SeenFilm
from evenhand.music.exercise import Hand
from evenhand.watching.pad import Pad
from evenhand.watching.tapes import Survey, Tape, weights_of
from evenhand.watching.values import SetUpWarning, Watched

BRIGHT, DARK_LUMA = 95, 90.0  # percent of the places that are darker; so dark even there
TILTED_DEG = 4.0
CLOSE_PX_PER_CM_SHARE = 1 / 60  # of the picture's width: fewer than 60 cm are in view
FEW_FPS, HEIGHTS_FPS = 50.0, 24.0
UNEVEN_SHARE = 0.25  # of the frames are not one usual step after the last
HIDDEN_SHARE = 0.85  # of the frames show the tape
STILL_SHARE = 0.0008  # of the picture: more of a tape's colour lies in the background


def warnings_of(
    watched: Watched,
    sample: FilmSample,
    survey: Survey,
    tapes: Mapping[Hand, Tape],
    pad: Pad | None,
    film: SeenFilm,
    *,
    near_cm: float | None = None,
) -> tuple[SetUpWarning, ...]:
    """Return what to change; ``near_cm`` is how far off the camera is, where it is seen to be near."""
    return (
        *_of_the_film(sample, film),
        *_of_the_tapes(tapes, survey, sample.grid_px),
        *_of_the_scene(watched, sample, survey, pad, near_cm),
        *_of_the_sticks(watched),
    )


def _of_the_tapes(tapes: Mapping[Hand, Tape], survey: Survey, grid_px: int) -> Iterator[SetUpWarning]:
    for each in tapes.values():
        still = weights_of(each)[survey.u, survey.v] > 0
        share = float(still.mean())
        if share > STILL_SHARE:
            rows, columns = (np.flatnonzero(still.any(axis=axis)) for axis in (1, 0))
            box = (
                grid_px * float(columns[0]),
                grid_px * float(rows[0]),
                grid_px * float(columns[-1] + 1),
                grid_px * float(rows[-1] + 1),
            )
            facts: dict[str, float | str] = {"colour": each.name, "share": share}
            yield SetUpWarning("tape in the background", facts, box)


def _of_the_film(sample: FilmSample, film: SeenFilm) -> Iterator[SetUpWarning]:
    facts = sample.facts
    if facts.fps < FEW_FPS:
        yield SetUpWarning(
            "few frames a second", {"fps": facts.fps, "rises": float(facts.fps >= HEIGHTS_FPS)}
        )
    steps = np.diff(film.times_s)
    if steps.size:
        uneven = float(np.mean(np.abs(steps / median(steps) - 1) > 0.5))
        if uneven > UNEVEN_SHARE:
            yield SetUpWarning("uneven frames", {"share": uneven})
        last_s = float(film.times_s[-1])
        if facts.seconds - last_s > max(1.0, 0.05 * facts.seconds):
            yield SetUpWarning("cut-off film", {"seconds": last_s, "of": facts.seconds})
    if facts.height_px > facts.width_px:
        yield SetUpWarning("upright picture")
    if facts.wide_range:
        yield SetUpWarning("wide range", {"bits": float(facts.bits)})


def _of_the_scene(
    watched: Watched, sample: FilmSample, survey: Survey, pad: Pad | None, near_cm: float | None
) -> Iterator[SetUpWarning]:
    luma = float(np.percentile(survey.y[::4, ::4], BRIGHT))
    dark = luma < DARK_LUMA
    if dark:
        yield SetUpWarning("too dark", {"luma": luma})
    if pad is None:
        if not dark:
            yield SetUpWarning("pad not found")
    elif pad.cut_off:
        yield SetUpWarning("pad cut off", {}, pad.box_px)
    elif near_cm is not None:
        yield SetUpWarning("too close", {"m": near_cm / 100}, pad.box_px)
    elif abs(pad.tilt_deg) > TILTED_DEG:
        yield SetUpWarning("camera tilted", {"deg": pad.tilt_deg}, pad.box_px)
    largest = max((stick.px_per_cm for stick in watched.sticks.values()), default=0.0)
    if pad is not None and largest > CLOSE_PX_PER_CM_SHARE * sample.facts.width_px:
        yield SetUpWarning("too close", {"cm": sample.facts.width_px / largest})


def _of_the_sticks(watched: Watched) -> Iterator[SetUpWarning]:
    if watched.shift_ms is None:
        yield SetUpWarning("shift not found")
    elif not watched.sticks:
        yield SetUpWarning("no heights")
    for hand, stick in watched.sticks.items():
        if stick.seen < HIDDEN_SHARE:
            yield SetUpWarning("tape often hidden", {"hand": hand, "share": stick.seen})
