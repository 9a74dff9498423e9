"""Calibrate loudness as height by taps, halves and fulls, and say of later takes what each hit was.

A calibration is kept as a JSON file and read again with every value checked. With it stands what is known of
the take's pad, microphone and gain: its file, its background, the colour of its hits.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, replace
from pathlib import Path

import numpy as np

import evenhand
from evenhand.acts.documents import DIGITS, Json, json_of, loaded, plain, value_of
from evenhand.acts.takes.hear import hear_opened
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.tests import loudness_of
from evenhand.arrays import Floats
from evenhand.errors import WrongOptions
from evenhand.hearing.onsets.bands import rows, usable_bands
from evenhand.music.strokes.heights import STROKE_CLASSES, HeightRange, StrokeClass, StrokeHeights
from evenhand.progress.heights import (
    FEWEST_HITS,
    LEAST_STEP_DB,
    MOST_BACKGROUND_DB,
    PHYSICS_DB_PER_DECADE,
    HandScale,
    HeightCalibration,
    SaidHeights,
    SaidStroke,
    ScaleOf,
    SetUp,
    changed,
    fit_scale,
    say_stroke,
    steps_db,
)
from evenhand.report.words.remarks import all_remarks, remark_words
from evenhand.take import SNARE_NOTES, Hit, MidiTake, OpensTakes, Progress, Remark, SoundTake, part_of

COLOUR_S = 0.016  # of each hit
MOST_HITS = 400  # of which the colour is read
SILENCE = 1e-14


def _set_up_of(take: SoundTake | MidiTake, times_s: Floats, levels_db: Floats) -> SetUp:
    """Return the set-up that a take shows, from its hits."""
    sound = isinstance(take, SoundTake)
    return SetUp(
        kind="sound" if sound else "midi",
        format=take.facts.format,
        rate_hz=take.facts.rate_hz,
        channels=take.facts.channels,
        background_db=loudness_of(take).background_db if isinstance(take, SoundTake) else None,
        quietest_db=float(levels_db.min()),
        loudest_db=float(levels_db.max()),
        colours=(_colour_of(take, times_s),) if isinstance(take, SoundTake) else (),
    )


def _colour_of(take: SoundTake, times_s: Floats) -> tuple[float, ...]:
    """Return how the sound of hits lies over the ear's bands, dB about their mean; the median hit's."""
    some = times_s[:: max(1, len(times_s) // MOST_HITS)]
    length = round(COLOUR_S * take.rate_hz)
    first = np.round(some * take.rate_hz).astype(np.intp)
    cut = rows(take.samples, first, length).astype(np.float64)
    power = np.abs(np.fft.rfft(cut * np.hanning(2 * length)[length:], 4 * length, axis=1)) ** 2
    hz = np.fft.rfftfreq(4 * length, 1 / take.rate_hz)
    bands = [(hz >= low) & (hz < high) for low, high in usable_bands(take.rate_hz)]
    level = 10 * np.log10(np.stack([power[:, band].mean(axis=1) for band in bands], axis=1) + SILENCE)
    colour = np.median(level - level.mean(axis=1, keepdims=True), axis=0)
    return tuple(colour.tolist())


Levels = dict[StrokeClass, Floats]

HANDS: tuple[ScaleOf, ...] = ("R", "L")
FEW_DB_PER_DECADE = 5.0
HAND_WORDS: Mapping[ScaleOf, str] = {"R": "of the right hand", "L": "of the left hand", "both": ""}


def calibrate_heights(
    takes: Mapping[StrokeClass, Path],
    request: TakeRequest,
    heights: StrokeHeights,
    *,
    opens: OpensTakes,
    midi_notes: Sequence[int] = SNARE_NOTES,
    progress: Progress | None = None,
) -> HeightCalibration:
    """Hear taps, halves and fulls, and fit the scale of each hand that is known, and of both together."""
    hits: dict[StrokeClass, tuple[Hit, ...]] = {}
    set_ups: list[SetUp] = []
    doubts: list[str] = []
    for done, stroke in enumerate(STROKE_CLASSES):
        take, hits[stroke], set_up = _heard(takes[stroke], request, opens, midi_notes)
        set_ups.append(set_up)
        doubts += [f"{takes[stroke].name}: {each}" for each in take.facts.warnings]
        if progress is not None:
            progress((done + 1) / len(STROKE_CLASSES))
    scales = _scales(hits, heights)
    return HeightCalibration(
        heights, scales, _one_set_up(set_ups), evenhand.__version__, (*doubts, *all_remarks(_doubts(scales)))
    )


def say_heights(
    path: Path,
    request: TakeRequest,
    calibration: HeightCalibration,
    *,
    opens: OpensTakes,
    even_so: bool = False,
    midi_notes: Sequence[int] = SNARE_NOTES,
    progress: Progress | None = None,
) -> SaidHeights:
    """Say of each hit of a take what it most likely was; or refuse, where the set-up seems changed.

    ``even_so`` says it all the same, and keeps the sentence as a warning.
    """
    take, hits, set_up = _heard(path, request, opens, midi_notes, progress)
    levels = np.array([hit.level_db for hit in hits])
    why = changed(set_up, levels, calibration)
    warnings = (remark_words(why),) if why is not None and even_so else ()
    refused = None if even_so else why
    strokes = () if refused else tuple(_said(hit, calibration) for hit in hits)
    facts = take.facts
    return SaidHeights(facts, path.name, evenhand.__version__, refused, strokes, (*facts.warnings, *warnings))


def _heard(
    path: Path,
    request: TakeRequest,
    opens: OpensTakes,
    midi_notes: Sequence[int],
    progress: Progress | None = None,
) -> tuple[SoundTake | MidiTake, tuple[Hit, ...], SetUp]:
    """Open and hear a take; graces have heights of their own and stay out."""
    take = opens(path, midi_notes=midi_notes, progress=part_of(progress, 0.0, 0.5))
    heard = hear_opened(take, request, path.name, part_of(progress, 0.5, 1.0)).heard
    hits = tuple(hit for hit in heard.hits if not hit.grace)
    if not hits:
        raise WrongOptions(got=f"{path.name} without a main note's hit", must_be="hits of one height")
    times_s, levels_db = (np.array([getattr(hit, name) for hit in hits]) for name in ("time_s", "level_db"))
    return take, hits, _set_up_of(take, times_s, levels_db)


def _scales(hits: Mapping[StrokeClass, Sequence[Hit]], heights: StrokeHeights) -> dict[ScaleOf, HandScale]:
    """Fit every scale that there are hits for."""
    scales: dict[ScaleOf, HandScale] = {}
    for hand in (*HANDS, "both"):
        levels: Levels = {
            stroke: np.array([h.level_db for h in hits[stroke] if hand in {"both", h.hand}])
            for stroke in STROKE_CLASSES
        }
        if hand != "both" and not any(len(each) for each in levels.values()):
            continue  # heard blind, or an exercise for one hand
        _check_counts(levels, hand)
        scales[hand] = fit_scale(levels, heights)
        _check_steps(scales[hand], hand)
    return scales


def _check_counts(levels: Levels, hand: ScaleOf) -> None:
    """Refuse a class of which too few were heard."""
    for stroke, heard in levels.items():
        if len(heard) < FEWEST_HITS:
            got = " ".join(part for part in (f"{len(heard)} {stroke} strokes", HAND_WORDS[hand]) if part)
            raise WrongOptions(
                got=got, must_be=f"{FEWEST_HITS} or more; the same exercise, several repetitions"
            )


def _check_steps(scale: HandScale, hand: ScaleOf) -> None:
    """Refuse classes that do not rise from one to the next."""
    for step, (lower, higher) in zip(steps_db(scale), (("taps", "halves"), ("halves", "fulls")), strict=True):
        if step < LEAST_STEP_DB:
            whose = f" {HAND_WORDS[hand]}" if HAND_WORDS[hand] else ""
            raise WrongOptions(
                got=f"{higher}{whose} {step:.1f} dB louder than {lower}",
                must_be=f"{LEAST_STEP_DB:g} dB or more: check the heights, and that the recorder "
                "does not ride its gain",
            )


def _one_set_up(set_ups: Sequence[SetUp]) -> SetUp:
    """Put the three takes' set-ups together; refuse takes of different ones."""
    first = set_ups[0]
    for other in set_ups[1:]:
        one, two = (f"{s.format} at {s.rate_hz} Hz, {s.channels} channels" for s in (first, other))
        if one != two:
            raise WrongOptions(
                got=f"takes of {one} and of {two}", must_be="three takes recorded the same way"
            )
    grounds = [each.background_db for each in set_ups if each.background_db is not None]
    if grounds and max(grounds) - min(grounds) > MOST_BACKGROUND_DB and max(grounds) > -90.0:
        got = f"backgrounds that differ by {max(grounds) - min(grounds):.0f} dB"
        raise WrongOptions(got=got, must_be="three takes in a row, the gain left alone")
    return replace(
        first,
        background_db=float(np.median(grounds)) if grounds else None,
        quietest_db=min(each.quietest_db for each in set_ups),
        loudest_db=max(each.loudest_db for each in set_ups),
        colours=tuple(colour for each in set_ups for colour in each.colours),
    )


def _doubts(scales: Mapping[ScaleOf, HandScale]) -> tuple[Remark, ...]:
    """Say what stands in the way of trusting the scale."""
    out = []
    slope = scales["both"].slope_db_per_decade.value or PHYSICS_DB_PER_DECADE
    if slope < FEW_DB_PER_DECADE:
        out.append(Remark("level hardly rises", {"slope": slope, "usual": PHYSICS_DB_PER_DECADE}))
    if "R" not in scales and "L" not in scales:
        out.append(Remark("scale of both hands"))
    return tuple(out)


def _said(hit: Hit, calibration: HeightCalibration) -> SaidStroke:
    """Say what one hit most likely was, by its hand's scale where there is one."""
    own: ScaleOf = hit.hand if hit.hand is not None and hit.hand in calibration.scales else "both"
    guess = say_stroke(hit.level_db, calibration.scales[own])
    return SaidStroke(
        time_s=hit.time_s,
        level_db=hit.level_db,
        hand=hit.hand,
        repetition=hit.repetition,
        position=hit.position,
        stroke=guess.stroke,
        probability=guess.probability,
        height_cm=guess.height_cm,
        height_ci95_cm=guess.height_ci95_cm,
    )


KIND = "evenhand heights"
MUST_BE = "a file that evenhand heights calibrate has written"
MOST_BANDS = 16


def calibration_text(calibration: HeightCalibration) -> str:
    """Write a calibration as JSON text."""
    return json_of(calibration_json(calibration))


def calibration_json(calibration: HeightCalibration) -> Json:
    """Turn a calibration into plain dicts, lists and numbers."""
    document: Json = {"what": KIND, **plain(calibration)}
    heights = document.pop("heights")
    return {**document, "heights_cm": {stroke: list(heights[stroke].values()) for stroke in STROKE_CLASSES}}


def read_calibration(text: str, name: str) -> HeightCalibration:
    """Read a calibration; refuse by name what is none."""
    try:
        found = loaded(text)
        return _calibration(found if isinstance(found, dict) else {})
    except KeyError as error:
        raise WrongOptions(got=f"{name} with no {error} in it", must_be=MUST_BE) from error
    except (ValueError, TypeError, AttributeError) as error:
        raise WrongOptions(got=f"{name} with what cannot be read ({error})", must_be=MUST_BE) from error


def _calibration(found: Json) -> HeightCalibration:
    """Build a calibration, and check it."""
    if found.get("what") != KIND:
        raise ValueError("no calibration in it")
    edges = tuple(each.name for each in fields(HeightRange))
    heights = {
        stroke: dict(zip(edges, found["heights_cm"][stroke], strict=True)) for stroke in STROKE_CLASSES
    }
    set_up = {**found["set_up"], "rate_hz": found["set_up"]["rate"]}
    read = value_of({**found, "heights": heights, "set_up": set_up}, HeightCalibration)
    _check(read)
    return read


def _check(read: HeightCalibration) -> None:
    """Refuse values that no calibration has."""
    if "both" not in read.scales:
        raise ValueError("no scale in it")
    for stroke in STROKE_CLASSES:
        heights = read.heights.of(stroke)
        if not 0 < heights.low_cm <= heights.aim_cm <= heights.high_cm:
            raise ValueError("heights out of order")
    for scale in read.scales.values():
        slope, levels = scale.slope_db_per_decade, [scale.classes[stroke] for stroke in STROKE_CLASSES]
        if slope.ci95 is None or slope.value is None or slope.value <= 0:
            raise ValueError("a slope that does not rise")
        if min(scale.spread_db, *(level.doubt_db for level in levels)) <= 0:
            raise ValueError("a spread of nothing")
    if any(len(colour) > MOST_BANDS for colour in read.set_up.colours):
        raise ValueError("more bands than there are")


def said_text(said: SaidHeights) -> str:
    """Write what was said of a take as JSON text."""
    return json_of(said_json(said))


def said_json(said: SaidHeights) -> Json:
    """Turn what was said of a take into plain dicts, lists and numbers."""
    document = plain(said, {**DIGITS, "db": 3, "probability": 4, "cm": 2})
    document["refused"] = None if said.refused is None else remark_words(said.refused)
    document["hits"] = document.pop("strokes")
    for hit in document["hits"]:
        hit["height_cm"] = {"value": hit["height_cm"], "ci95": hit.pop("height_ci95_cm")}
    return document
