"""A calibration as a file: written as JSON, and read again with every value checked."""

from __future__ import annotations

from dataclasses import fields

from evenhand.acts.documents import DIGITS, Json, json_of, loaded, plain, value_of
from evenhand.errors import WrongOptions
from evenhand.music.strokes.heights import STROKE_CLASSES, HeightRange
from evenhand.progress.heights import HeightCalibration, SaidHeights
from evenhand.report.words.remarks import remark_words

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
