"""Which films are made: a usual set-up, varied by seed, and what is changed of it, one thing at a time.

Odd seeds are for development, even seeds are held out: tune on the first, report the second.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from benchmarks.filming.case import FilmCase, Rises, View

PAIRS = (
    ("blue", "green"),
    ("pink", "blue"),
    ("green", "pink"),
    ("red", "blue"),
    ("yellow", "blue"),
    ("green", "red"),
)
USUAL_FILMS = 4  # of the usual row, for one of the others
PADS = ("grey", "black", "light")


@dataclass(frozen=True)
class Shot:
    """One film of a row. Rows of ``hard`` set-ups are to be warned of; their figures stand apart."""

    group: str
    name: str
    case: FilmCase
    hard: bool = False


def usual(seed: int) -> FilmCase:
    """Return a set-up as a teacher would ask for it: no two are alike.

    A watcher must not lean on how this player stands: grips, sticks and tape lie about the usual.
    """
    rng = np.random.default_rng([41, seed])
    right, left = PAIRS[int(rng.integers(len(PAIRS)))]
    view = View(
        distance_m=float(rng.uniform(1.5, 2.4)),
        field_cm=float(rng.uniform(85, 105)),
        centre_cm=(float(rng.uniform(-17, -11)), float(rng.uniform(9, 14))),
        side="R" if rng.uniform() < 0.7 else "L",
        roll_deg=float(rng.uniform(-1.5, 1.5)),
        pitch_deg=float(rng.uniform(3, 10)),
        yaw_deg=float(rng.uniform(-5, 5)),
    )
    return FilmCase(
        exercise="1/8: RLRL",
        tempo="1/8=150",
        seconds=8.0,
        seed=seed,
        stroke="any",
        rises=Rises(0.3, 0.25),
        restitution=float(rng.uniform(0.74, 0.86)),
        fingers=0.9,
        tapes={"R": right, "L": left},
        view=view,
        skin=float(rng.uniform()),
        sleeves=bool(rng.uniform() < 0.7),
        pad=PADS[int(rng.integers(len(PADS)))],
        noise=float(rng.uniform(1, 3)),
        readout_s=float(rng.uniform(0, 0.012)),
        warmth=float(rng.uniform(-0.3, 0.6)),
        shift_ms=float(rng.uniform(-60, 60)),
        band_cm=float(rng.uniform(2.0, 3.0)),
        band_sd_cm=0.2,
        stick_cm=float(rng.uniform(39.5, 41.5)),
        held_cm=float(rng.uniform(12.7, 14.4)),
        inward_deg={"R": float(rng.uniform(16, 36)), "L": float(rng.uniform(16, 36))},
    )


FAST: Mapping[str, Any] = {
    "exercise": "1/16: RLRL",
    "tempo": "1/4=120",
    "stroke": "tap",
    "seconds": 6.0,
    "rises": Rises(0.0, 0.0),
}
DOUBLES: Mapping[str, Any] = {**FAST, "exercise": "1/16: RRLL", "tempo": "1/4=80"}
ACCENTS: Mapping[str, Any] = {
    "exercise": "1/16: >RLRR >LRLL",
    "tempo": "1/4=60",
    "stroke": "full",
    "rises": Rises(0.2, 0.0),
}

SMALL: Mapping[str, Any] = {"size": (640, 360), "fps": 30.0}

# Group, name, what is changed of the usual case, and of its view.
EASY: Sequence[tuple[str, str, Mapping[str, Any], Mapping[str, Any]]] = (
    ("usual", "60 fps, 1/120 s, two bands", {}, {}),
    ("rate", "30 fps", {"fps": 30.0}, {}),
    ("rate", "120 fps, 1/240 s", {"fps": 120.0, "shutter_s": 1 / 240, "seconds": 5.0}, {}),
    ("rate", "240 fps, 1/480 s", {"fps": 240.0, "shutter_s": 1 / 480, "seconds": 3.0}, {}),
    ("rate", "uneven, 5 % of frames lost", {"jitter": 0.4, "drop_share": 0.05}, {}),
    ("blur", "1/500 s", {"shutter_s": 1 / 500}, {}),
    ("blur", "1/60 s", {"shutter_s": 1 / 60}, {}),
    ("blur", "30 fps, 1/30 s", {"fps": 30.0, "shutter_s": 1 / 30}, {}),
    ("compression", "crf 18", {"crf": 18}, {}),
    ("compression", "crf 30", {"crf": 30}, {}),
    ("compression", "crf 36", {"crf": 36}, {}),
    ("tape", "one band", {"bands": 1}, {}),
    ("tape", "one band, 30 fps", {"bands": 1, "fps": 30.0}, {}),
    ("view", "from 1.2 m", {}, {"distance_m": 1.2}),
    ("view", "from 3 m", {}, {"distance_m": 3.0}),
    ("view", "tilted 6 degrees", {}, {"roll_deg": 6.0}),
    ("view", "from behind, 15 degrees", {}, {"yaw_deg": 15.0}),
    ("view", "from above, 18 degrees", {}, {"pitch_deg": 18.0}),
    ("view", "wide, 140 cm", {}, {"field_cm": 140.0}),
    ("view", "640 x 360", {"size": (640, 360)}, {}),
    ("light", "dim, noise 6", {"light": 0.35, "noise": 6.0}, {}),
    ("light", "exposure wanders by 30 %", {"exposure_drift": 0.3}, {}),
    ("around", "somebody walks behind", {"passer": True}, {}),
    ("around", "14 things behind", {"clutter": 14}, {}),
    ("around", "hand-held, 3 px", {"shake_px": 3.0}, {}),
    ("around", "sound 250 ms late", {"shift_ms": 250.0}, {}),
    ("playing", "sixteenths at 120, taps", FAST, {}),
    ("playing", "the same, 120 fps", {**FAST, "fps": 120.0, "shutter_s": 1 / 240, "seconds": 4.0}, {}),
    ("playing", "doubles, sixteenths at 80", DOUBLES, {}),
    ("playing", "accents and taps", ACCENTS, {}),
    ("playing", "another sticking than is written", {"written": "1/8: RRLL"}, {}),
    ("length", "10 s, 640 x 360, 30 fps", {**SMALL, "seconds": 10.0}, {}),
    ("length", "100 s, the same", {**SMALL, "seconds": 100.0}, {}),
)
HARD: Sequence[tuple[str, Mapping[str, Any], Mapping[str, Any]]] = (
    ("both sticks one colour", {"tapes": {"R": "blue", "L": "blue"}}, {}),
    ("tape on one stick only", {"tapes": {"R": "green"}}, {}),
    ("no tape", {"tapes": {}}, {}),
    ("tape's colours in the background", {"backdrop": ("blue", "green", "pink", "red", "yellow")}, {}),
    ("too dark", {"light": 0.1, "noise": 8.0}, {}),
    ("tilted 15 degrees", {}, {"roll_deg": 15.0}),
    ("too close, 0.6 m", {}, {"distance_m": 0.6}),
    ("pad cut off", {}, {"centre_cm": (-42.0, 12.0)}),
    ("15 fps", {"fps": 15.0, "shutter_s": 1 / 60}, {}),
    ("a pad of the tape's colour", {"tapes": {"R": "blue", "L": "pink"}, "pad": "blue"}, {}),
    ("no pad", {"pad": "none"}, {}),
    ("10-bit HEVC", {"codec": "libx265", "deep": True}, {}),
    ("no sound", {"sound": False}, {}),
    (
        "slow motion: 120 fps in a file of 30",
        {"fps": 120.0, "slowed": 4.0, "sound": False, "seconds": 4.0},
        {},
    ),
    ("sound 300 ms late", {"shift_ms": 300.0}, {}),
    ("cut off at six tenths of the file", {"kept": 0.6}, {}),
    ("upright, rotated", {"size": (720, 1280), "rotation": 90}, {"field_cm": 75.0}),
)


def changed(seed: int, case: Mapping[str, Any], view: Mapping[str, Any]) -> FilmCase:
    """Return the usual case of a seed with something changed."""
    base = usual(seed)
    return replace(base, view=replace(base.view, **view), **case)


def shots(films: int, *, held_out: bool, first: int = 0) -> list[Shot]:
    """Return every row's films, more of the usual; a row's n-th has the same player and room in every row."""
    seeds = [2 * i + (0 if held_out else 1) for i in range(first, first + USUAL_FILMS * films)]
    many = {"usual": seeds}
    seeds = seeds[:films]
    easy = [
        Shot(group, name, changed(seed, *how))
        for group, name, *how in EASY
        for seed in many.get(group, seeds)
    ]
    hard = [Shot("hard", name, changed(seed, *how), hard=True) for name, *how in HARD for seed in seeds]
    return easy + hard
