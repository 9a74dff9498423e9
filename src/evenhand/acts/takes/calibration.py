"""A calibration as a file: written as JSON, and read again with every value checked."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from typing import Any, cast

from evenhand.acts.takes.document import Json, figure, input_facts, json_of, rounded, times
from evenhand.errors import WrongOptions
from evenhand.measuring.values import Measure
from evenhand.music.strokes.heights import STROKE_CLASSES, HeightRange, StrokeHeights
from evenhand.progress.heights import (
    SCALES,
    ClassLevel,
    HandScale,
    HeightCalibration,
    SaidHeights,
    SaidStroke,
    ScaleOf,
    SetUp,
)
from evenhand.report.words.remarks import remark_words
from evenhand.take import TakeKind

KIND = "evenhand heights"
MUST_BE = "a file that evenhand heights calibrate has written"
MOST_BANDS = 16


def calibration_text(calibration: HeightCalibration) -> str:
    """Write a calibration as JSON text."""
    return json_of(calibration_json(calibration))


def calibration_json(calibration: HeightCalibration) -> Json:
    """Turn a calibration into plain dicts, lists and numbers."""
    set_up = calibration.set_up
    return {
        "what": KIND,
        "version": calibration.version,
        "warnings": list(calibration.warnings),
        "heights_cm": {
            stroke: [rounded(x) for x in (each.low_cm, each.high_cm, each.aim_cm)]
            for stroke in STROKE_CLASSES
            for each in (calibration.heights.of(stroke),)
        },
        "scales": {of: _scale_json(scale) for of, scale in calibration.scales.items()},
        "set_up": {
            "kind": set_up.kind,
            "format": set_up.format,
            "rate": set_up.rate_hz,
            "channels": set_up.channels,
            "background_db": None if set_up.background_db is None else rounded(set_up.background_db),
            "quietest_db": rounded(set_up.quietest_db),
            "loudest_db": rounded(set_up.loudest_db),
            "colours": [[rounded(x) for x in colour] for colour in set_up.colours],
        },
    }


def _scale_json(scale: HandScale) -> Json:
    """Write one hand's scale."""
    return {
        "slope_db_per_decade": figure(scale.slope_db_per_decade),
        "at_10_cm_db": rounded(scale.at_10_cm_db),
        "spread_db": rounded(scale.spread_db),
        "classes": {
            stroke: {"mean_db": rounded(level.mean_db), "doubt_db": rounded(level.doubt_db), "n": level.n}
            for stroke, level in scale.classes.items()
        },
    }


def read_calibration(text: str, name: str) -> HeightCalibration:
    """Read a calibration; refuse by name what is none."""
    try:
        read = json.loads(text)
        return _calibration(read)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        why = str(error) if isinstance(error, _Unfit) else "something that cannot be read"
        raise WrongOptions(got=f"{name} with {why}", must_be=MUST_BE) from error


class _Unfit(ValueError):
    """A value that no calibration has."""


def _calibration(read: object) -> HeightCalibration:
    """Check and build a calibration."""
    if not isinstance(read, dict) or read.get("what") != KIND:
        raise _Unfit("no calibration in it")
    heights = StrokeHeights(**{stroke: _range(read["heights_cm"][stroke]) for stroke in STROKE_CLASSES})
    scales: dict[ScaleOf, HandScale] = {
        of: _scale(read["scales"][of]) for of in SCALES if of in read["scales"]
    }
    if "both" not in scales:
        raise _Unfit("no scale in it")
    warnings = tuple(str(each) for each in read.get("warnings", []))
    return HeightCalibration(heights, scales, _set_up(read["set_up"]), str(read["version"]), warnings)


def _range(read: Sequence[object]) -> HeightRange:
    """Read a class's heights."""
    low, high, aim = (_number(each) for each in read)
    if not 0 < low <= aim <= high:
        raise _Unfit("heights out of order")
    return HeightRange(low, high, aim)


def _scale(read: Mapping[str, Any]) -> HandScale:
    """Read one hand's scale."""
    slope = read["slope_db_per_decade"]
    low, high = (_number(each) for each in slope["ci95"])
    value = _number(slope["value"])
    if value <= 0:
        raise _Unfit("a slope that does not rise")
    classes = {
        stroke: ClassLevel(_number(c["mean_db"]), _positive(c["doubt_db"]), int(c["n"]))
        for stroke in STROKE_CLASSES
        for c in (read["classes"][stroke],)
    }
    measure = Measure(value, int(slope["n"]), "dB/decade", (low, high))
    return HandScale(measure, _number(read["at_10_cm_db"]), _positive(read["spread_db"]), classes)


def _set_up(read: Mapping[str, Any]) -> SetUp:
    """Read the set-up."""
    if read["kind"] not in ("sound", "midi"):
        raise _Unfit("an unknown kind of take")
    ground = read["background_db"]
    colours = tuple(tuple(_number(x) for x in colour[:MOST_BANDS]) for colour in read["colours"])
    return SetUp(
        kind=cast("TakeKind", read["kind"]),
        format=str(read["format"]),
        rate_hz=None if read["rate"] is None else int(read["rate"]),
        channels=None if read["channels"] is None else int(read["channels"]),
        background_db=None if ground is None else _number(ground),
        quietest_db=_number(read["quietest_db"]),
        loudest_db=_number(read["loudest_db"]),
        colours=colours,
    )


def _number(read: object) -> float:
    """Read a finite number."""
    if isinstance(read, bool) or not isinstance(read, int | float) or not math.isfinite(read):
        raise _Unfit("a value that is not a number")
    return float(read)


def _positive(read: object) -> float:
    """Read a number above 0."""
    value = _number(read)
    if value <= 0:
        raise _Unfit("a spread of nothing")
    return value


def said_text(said: SaidHeights) -> str:
    """Write what was said of a take as JSON text."""
    return json_of(said_json(said))


def said_json(said: SaidHeights) -> Json:
    """Turn what was said of a take into plain dicts, lists and numbers."""
    return {
        "version": said.version,
        "name": said.name,
        "input": input_facts(said.input),
        "warnings": list(said.warnings),
        "refused": None if said.refused is None else remark_words(said.refused),
        "hits": [_stroke(stroke) for stroke in said.strokes],
    }


def _stroke(said: SaidStroke) -> Json:
    """Write what one hit most likely was."""
    return {
        "time_s": times([said.time_s])[0],
        "level_db": rounded(said.level_db, 3),
        "hand": said.hand,
        "repetition": said.repetition,
        "position": said.position,
        "stroke": said.stroke,
        "probability": None if said.probability is None else rounded(said.probability, 4),
        "height_cm": {
            "value": rounded(said.height_cm, 2),
            "ci95": [rounded(edge, 2) for edge in said.height_ci95_cm],
        },
    }
