"""A take that was watched, read back from its document, and joined anew with what was heard since.

Conventions: the document is that of ``evenhand watch --json`` (docs/json.md, schema/watch-1.json). Strokes
and hits belong together where their times are nearer than ``SAME_S``; a hit that nothing was seen of has a
stroke without a hand. Figures are read as they were stored; joined anew, they are measured anew.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from evenhand.acts.documents import Json, value_of
from evenhand.acts.takes.document import SEEN_ID, damaged, document_of, heard_take_from, json_text
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.takes.watch import WatchRequest, asked_of, joined, seen_json_text
from evenhand.film import FilmFacts
from evenhand.measuring.seen import AskedStroke, HandSeen, SeenTake, measures_seen
from evenhand.measuring.values import HeardTake, Measure
from evenhand.music.exercise import HANDS, Hand
from evenhand.music.strokes.heights import STROKE_CLASSES, StrokeClass
from evenhand.progress.history import PastTake
from evenhand.watching.values import SeenStick, SeenStroke, SetUpWarning, Watched

SAME_S = 0.005
MUST_BE = "a JSON file written by evenhand watch --json"


def read_take(text: str | bytes) -> tuple[HeardTake, SeenTake | None]:
    """Read what was heard in a take, and what was seen, where it was watched.

    Raises
    ------
    BadDocument
        Where the text is not the JSON of a take.
    """
    found = document_of(text)
    heard = heard_take_from(found)
    if found["schema"] != SEEN_ID:
        return heard, None
    try:
        return heard, _seen_take(found, heard)
    except KeyError as error:
        raise damaged(f"one without {error}", MUST_BE) from error
    except (TypeError, ValueError, AttributeError) as error:
        raise damaged(f"a damaged one ({error})", MUST_BE) from error


def seen_take_of(text: str | bytes) -> SeenTake | None:
    """Read a take that was watched; None where it was only heard. Errors as of ``read_take``."""
    return read_take(text)[1]


def _seen_take(found: Json, heard: HeardTake) -> SeenTake:
    stroke = next((each for each in STROKE_CLASSES if each == found["asked_stroke"]), None)
    watched = _watched(found)
    asked = _as_written(asked_of(heard, _request(watched, stroke)), found["strokes"])
    return SeenTake(
        heard,
        value_of(found["film"], FilmFacts),
        replace(watched, strokes=_laid(watched.strokes, asked)),
        asked,
        value_of(found["hands"], dict[Hand, HandSeen]),
        value_of(found["balance"]["height_cm"], Measure),
        {row["position"]: value_of(row["height_cm"], Measure) for row in found["positions"]},
        stroke,
    )


def _as_written(asked: Sequence[AskedStroke], rows: Sequence[Json]) -> tuple[AskedStroke, ...]:
    """Give each hit the hand that is written; where another sticking was seen, the hit has that one's."""
    return tuple(
        replace(of, hit=replace(of.hit, hand=row["written_hand"]))
        for of, row in zip(asked, rows, strict=True)
    )


def _watched(found: Json) -> Watched:
    strokes = [{**row, "stroke": row["class"], "parts": row["lift_parts"]} for row in found["strokes"]]
    scales: Mapping[str, float] = found["scale_px_per_cm"]
    shift_ms = found["audio_video_shift_ms"]
    return Watched(
        value_of(strokes, tuple[SeenStroke, ...]),
        {hand: _stick(found["ways"][hand], scales[hand]) for hand in HANDS if hand in found["ways"]},
        value_of(found["setup"]["warnings"], tuple[SetUpWarning, ...]),
        value_of(found["tapes"], dict[Hand, str]),
        None if shift_ms is None else float(shift_ms),
        float(found["film"]["fps"]),
        float(found["scale_sd"]),
    )


def _stick(way: Json, px_per_cm: float) -> SeenStick:
    heights = [np.nan if cm is None else cm for cm in way["height_cm"]]
    if len(heights) != len(way["times_s"]):
        raise ValueError("heights over time, and not as many times")
    times_s, height_cm = (np.array(each, dtype=np.float64) for each in (way["times_s"], heights))
    return SeenStick(times_s, height_cm, float(px_per_cm), int(way["bands"]), float(way["seen"]))


def _request(watched: Watched, stroke: StrokeClass | None) -> WatchRequest:
    return WatchRequest(TakeRequest(), watched.tapes, stroke=stroke)


def _laid(strokes: Sequence[SeenStroke], asked: Sequence[AskedStroke]) -> tuple[SeenStroke, ...]:
    """Give each hit the stroke that was seen at its time."""
    times_s = [stroke.time_s for stroke in strokes]
    return tuple(_at(strokes, times_s, of.hit.time_s) for of in asked)


def _at(strokes: Sequence[SeenStroke], times_s: Sequence[float], time_s: float) -> SeenStroke:
    after = bisect_left(times_s, time_s)
    near = min(
        strokes[max(0, after - 1) : after + 1], key=lambda each: abs(each.time_s - time_s), default=None
    )
    if near is None or abs(near.time_s - time_s) > SAME_S:
        return SeenStroke(time_s)
    return replace(near, time_s=time_s)


def joined_anew(seen: SeenTake, heard: HeardTake, stroke: StrokeClass | None) -> SeenTake:
    """Join what was seen with what was heard otherwise since, whose findings are the ear's alone."""
    request = _request(seen.watched, stroke)
    asked = asked_of(heard, request)
    watched = replace(seen.watched, strokes=_laid(seen.watched.strokes, asked))
    return joined(heard, seen.film, watched, asked, request)


def with_seen(past: PastTake, seen: SeenTake | None) -> PastTake:
    """Add what was seen, where the take was watched, to a take of a student's history."""
    return past if seen is None else replace(past, measures={**past.measures, **measures_seen(seen)})


def text_beside(before: str | None, heard: HeardTake, stroke: StrokeClass | None = None) -> str:
    """Write what was heard, with what was seen before in the same take, where anything was.

    ``stroke`` is the class that was to be played from; None: as before.
    """
    seen = None if before is None else seen_take_of(before)
    if seen is None:
        return json_text(heard)
    return seen_json_text(joined_anew(seen, heard, stroke or seen.stroke))
