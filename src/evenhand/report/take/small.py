"""A take in small for a line of the desk, and a take heard without an exercise along time.

In small it is the folded picture without its music: px, y downwards; ms, negative = early; a column is a
written note, a row one time through. As in the large picture a stick leans as its hand does, stands left
where it came early and right where late, and is the longer and heavier the louder; the pale band is what an
ear can't tell. A ring is a note that was not heard. Along time a hit is an upright stick, since no hand is
known.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import median

from evenhand.measuring.values import HeardTake, audible_ms
from evenhand.music.exercise import Hand
from evenhand.report.plots.marks import Ink, Stroke, ring_path
from evenhand.report.plots.markup import el, picture, px, svg, text_at
from evenhand.report.plots.shell import fold, prose_lines, table
from evenhand.report.take.layout import Scale, level_range, quantile, scale_of_marks
from evenhand.report.take.rows import Row, rows_of
from evenhand.report.words.figures import clock_face, plain
from evenhand.take import Heard

WIDTH_PX, HEIGHT_PX = 112.0, 44.0
MOST_COLUMNS, MOST_ROWS = 16, 6
BAND_SHARE = 0.4  # of half a column: what the audible band takes
KEPT_INSIDE = 0.9  # share of the hits that stand where they came; the others stand at the edge


@dataclass(frozen=True, slots=True)
class SmallHit:
    """One hit: its column, how late it came, and how loud it is from 0 (soft) to 1."""

    column: int
    late_ms: float
    strength: float


@dataclass(frozen=True, slots=True)
class SmallRow:
    """One time through: its hits, and the columns whose note was not heard."""

    hits: tuple[SmallHit, ...]
    missed: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class SmallTake:
    """What is drawn of a take: a hand for each column, and its newest rows."""

    hands: tuple[Hand, ...]
    rows: tuple[SmallRow, ...]
    audible_ms: float


def small_take(take: HeardTake) -> SmallTake | None:
    """Take what the small picture draws from what was heard; None where no hand is known."""
    rows = rows_of(take.heard, take.exercise) if take.exercise is not None else ()
    marks = [mark for row in rows for mark in row.marks]
    hands = {mark.position: mark.hand for mark in marks}
    place = {position: column for column, position in enumerate(sorted(hands)[:MOST_COLUMNS])}
    if len(marks) < 2:
        return None
    scale = scale_of_marks(marks, audible_ms(None if take.measures is None else take.measures.interval_ms))
    newest = sorted({row.repetition for row in rows if row.marks})[-MOST_ROWS:]
    drawn = tuple(
        _small_row([row for row in rows if row.repetition == each], place, scale) for each in newest
    )
    return SmallTake(tuple(hands[position] for position in place), tuple(drawn), scale.audible_ms)


def _small_row(rows: Sequence[Row], place: Mapping[int, int], scale: Scale) -> SmallRow:
    """Gather one repetition, in one row or, with a stop in it, in several."""
    hits = tuple(
        SmallHit(
            place[mark.position],
            0.0 if mark.late_ms is None else mark.late_ms - scale.centre_ms,
            scale.strength(mark.level_db),
        )
        for row in rows
        for mark in row.marks
        if mark.position in place
    )
    missed = (note for row in rows for note in row.missed if not note.grace)
    return SmallRow(hits, tuple(place[note.position] for note in missed if note.position in place))


def small_folded(take: SmallTake) -> str:
    """Draw a take in small, as SVG; its twin in words are the findings beside it."""
    width = WIDTH_PX / max(len(take.hands), 1)
    height = HEIGHT_PX / max(len(take.rows), 1)
    ink = Ink()
    for number, row in enumerate(take.rows):
        _row(ink, take, row, (number + 0.5) * height, width / 2)
    return svg(
        (WIDTH_PX, HEIGHT_PX),
        el("path", class_="band", d=_bands(take, width)),
        ink.drawn(),
        width=px(WIDTH_PX),
        height=px(HEIGHT_PX),
        aria_hidden="true",
        class_="small-folded",
    )


def px_per_ms(take: SmallTake, half_px: float) -> float:
    """Return how far a ms is drawn: the band keeps its share of a column, unless hits lie far beyond."""
    lates = sorted(abs(hit.late_ms) for row in take.rows for hit in row.hits)
    far_ms = lates[min(int(KEPT_INSIDE * len(lates)), len(lates) - 1)] if lates else 0.0
    return min(BAND_SHARE * half_px / take.audible_ms, half_px / max(far_ms, 1e-6))


def _row(ink: Ink, take: SmallTake, row: SmallRow, y: float, half_px: float) -> None:
    """Put one time through on its line."""
    pitch = HEIGHT_PX / max(len(take.rows), 1)
    stroke = Stroke.for_rows(min(pitch, 11.0), max(half_px, 4.0))
    scale = px_per_ms(take, half_px)
    for hit in row.hits:
        ink.add_stick(
            stroke,
            ((2 * hit.column + 1) * half_px, y),
            hit.late_ms * scale,
            room_px=half_px + 4,
            hand=take.hands[hit.column],
            strength=hit.strength,
        )
    for column in row.missed:
        ink.add("ring", 0.9, ring_path((2 * column + 1) * half_px, y, 2.2))


def _bands(take: SmallTake, width: float) -> str:
    """Draw the band behind each column as one path."""
    half = max(px_per_ms(take, width / 2) * take.audible_ms, 0.8)
    middles: Sequence[float] = [(number + 0.5) * width for number in range(len(take.hands))]
    return "".join(f"M{px(x - half)} 0h{px(2 * half)}v{px(HEIGHT_PX)}h-{px(2 * half)}z" for x in middles)


ROW_PX = 40.0
LEFT_PX = 40.0
MOST_LINES = 40
BLIND_WEIGHTS = 4
SECONDS = (2, 4, 5, 8, 10, 15, 20, 30, 60, 120, 300, 600)
MOST_LISTED = 2000
BLIND_LAYOUTS = {"desk": (1000.0, 10.0), "phone": (340.0, 4.0)}  # px wide, seconds a row
BLIND_CAPTION = "Each upright stick is a hit, along the time of the recording; the taller, the louder."
NO_EXERCISE = "No exercise was given, so hands are not told apart and nothing is early or late."
CLICKS_CAPTION = "The small marks under the line are clicks."


def time_line(heard: Heard, *, key: str, width: float, seconds_a_row: float, words: str) -> str:
    """Draw hits as upright sticks along rows of time, clicks as small marks under them."""
    if not heard.hits:
        return ""
    start = math.floor(heard.hits[0].time_s)
    span = heard.hits[-1].time_s - start
    a_row = next((s for s in SECONDS if s >= seconds_a_row and span / s <= MOST_LINES), SECONDS[-1])
    count = int(span // a_row) + 1
    per_s = (width - LEFT_PX - 6) / a_row
    low, high = level_range([hit.level_db for hit in heard.hits])
    ink = Ink()
    for hit in heard.hits:
        row, at = divmod(hit.time_s - start, a_row)
        strength = min(1.0, max(0.0, (hit.level_db - low) / (high - low)))
        x, base = LEFT_PX + at * per_s, 30 + row * ROW_PX
        weight = 1.1 + 0.5 * round(strength * (BLIND_WEIGHTS - 1))
        ink.add("both", weight, f"M{px(x)} {px(base)}v{px(-6 - 20 * strength)}")
    for time_s in heard.clicks_s:
        row, at = divmod(time_s - start, a_row)
        if 0 <= row < count:
            ink.add("asked", 0.0, f"M{px(LEFT_PX + at * per_s)} {px(33 + row * ROW_PX)}v4")
    rules = "".join(f"M{px(LEFT_PX)} {px(30 + i * ROW_PX)}H{px(width - 6)}" for i in range(count))
    labels = [
        text_at(LEFT_PX - 8, 32 + i * ROW_PX, clock_face(start + i * a_row), class_="n e")
        for i in range(count)
    ]
    return picture(
        [el("path", class_="grid", d=rules), ink.drawn(), *labels],
        width=width,
        height=14 + count * ROW_PX,
        key=key,
        title=f"The take along time, {a_row:g} seconds a row",
        words=words,
        class_="block",
    )


def blind_words(heard: Heard) -> list[str]:
    """Return the time line in sentences."""
    hits = heard.hits
    if len(hits) < 2:
        return ["Too few hits to say more."]
    steps = [(b.time_s - a.time_s) * 1000 for a, b in pairwise(hits)]
    levels = [hit.level_db for hit in hits]
    return [
        f"{len(hits)} hits, from {plain(hits[0].time_s, 2)} s to {plain(hits[-1].time_s, 2)} s of the file.",
        f"From hit to hit: {_half_between(steps, 0)} ms, the middle is {plain(median(steps), 0)} ms.",
        f"Levels: {_half_between(levels, 1)} dB against full scale.",
    ]


def _half_between(values: list[float], decimals: int) -> str:
    low, high = (plain(quantile(values, share), decimals) for share in (0.25, 0.75))
    return f"half lie between {low} and {high}"


def hits_table(heard: Heard) -> str:
    """Return every hit's time and level as a table; very long takes are cut, and say so."""
    hits = heard.hits[:MOST_LISTED]
    steps = ["", *(plain((b.time_s - a.time_s) * 1000, 0) for a, b in pairwise(hits))]
    rows = [(str(i + 1), plain(hit.time_s, 3), steps[i], plain(hit.level_db)) for i, hit in enumerate(hits)]
    more = len(heard.hits) - MOST_LISTED
    caption = "Every hit." if more <= 0 else f"The first {MOST_LISTED} hits; {more} more are in the JSON."
    heads = ("hit", "time, s", "since the last, ms", "level, dB")
    return table(heads, rows, caption, label="Every hit")


def blind_figure(take: HeardTake) -> str:
    """Return the hits along time for a desk and for a phone, where no exercise was given; and their table."""
    said = " ".join(blind_words(take.heard))
    layouts = [
        el(
            "div",
            time_line(take.heard, key=f"{key}-time", width=width, seconds_a_row=seconds, words=said),
            class_=f"layout {key}",
        )
        for key, (width, seconds) in BLIND_LAYOUTS.items()
    ]
    caption = [BLIND_CAPTION]
    if take.exercise is None:
        caption.append(NO_EXERCISE)
    if take.heard.clicks_s:
        caption.append(CLICKS_CAPTION)
    words = el("figcaption", prose_lines((" ".join(caption), said)))
    hits = fold("Every hit in figures", hits_table(take.heard), class_="tables")
    return el("figure", *layouts, words, class_="folded") + hits
