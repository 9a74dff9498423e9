"""A take heard without an exercise: its hits on a time line, an upright stick each.

Conventions: px of the drawing's own units, y downwards; seconds in the file's own time;
levels in dB. No hand is told, so no stick leans.
"""

from __future__ import annotations

import math
from itertools import pairwise
from statistics import median

from evenhand.domain.heard import Heard, Hit
from evenhand.pages.figures import plain
from evenhand.pages.markup import el, esc, picture, px, text_at
from evenhand.pages.scale import LEAST_RANGE_DB, quantile
from evenhand.pages.sticks import Ink

ROW_PX = 40.0
LEFT_PX = 40.0
MOST_LINES = 40
WEIGHTS = 4
SECONDS = (2, 4, 5, 8, 10, 15, 20, 30, 60, 120, 300, 600)
MOST_LISTED = 2000


def time_line(heard: Heard, *, key: str, width: float, seconds_a_row: float, words: str) -> str:
    """Draw hits as upright sticks along rows of time, clicks as small marks under them."""
    if not heard.hits:
        return ""
    start = math.floor(heard.hits[0].time_s)
    span = heard.hits[-1].time_s - start
    a_row = next((s for s in SECONDS if s >= seconds_a_row and span / s <= MOST_LINES), SECONDS[-1])
    count = int(span // a_row) + 1
    per_s = (width - LEFT_PX - 6) / a_row
    low, high = _range(heard.hits)
    ink = Ink()
    for hit in heard.hits:
        row, at = divmod(hit.time_s - start, a_row)
        strength = min(1.0, max(0.0, (hit.level_db - low) / (high - low)))
        x, base = LEFT_PX + at * per_s, 30 + row * ROW_PX
        weight = 1.1 + 0.5 * round(strength * (WEIGHTS - 1))
        ink.add("both", weight, f"M{px(x)} {px(base)}v{px(-6 - 20 * strength)}")
    for time_s in heard.clicks_s:
        row, at = divmod(time_s - start, a_row)
        if 0 <= row < count:
            ink.add("asked", 0.0, f"M{px(LEFT_PX + at * per_s)} {px(33 + row * ROW_PX)}v4")
    rules = "".join(f"M{px(LEFT_PX)} {px(30 + i * ROW_PX)}H{px(width - 6)}" for i in range(count))
    labels = [
        text_at(LEFT_PX - 8, 32 + i * ROW_PX, _clock(start + i * a_row), class_="n e") for i in range(count)
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
    rows = []
    before: float | None = None
    for i, hit in enumerate(heard.hits[:MOST_LISTED]):
        step = "" if before is None else plain((hit.time_s - before) * 1000, 0)
        before = hit.time_s
        cells = (plain(hit.time_s, 3), step, plain(hit.level_db))
        rows.append(el("tr", el("th", str(i + 1), scope="row"), *(el("td", esc(c)) for c in cells)))
    head = "".join(
        el("th", esc(n), scope="col") for n in ("hit", "time, s", "since the last, ms", "level, dB")
    )
    more = len(heard.hits) - MOST_LISTED
    caption = "Every hit." if more <= 0 else f"The first {MOST_LISTED} hits; {more} more are in the JSON."
    return el(
        "table",
        el("caption", esc(caption)),
        el("thead", el("tr", head)),
        el("tbody", *rows),
        class_="notes",
    )


def _range(hits: tuple[Hit, ...]) -> tuple[float, float]:
    levels = [hit.level_db for hit in hits]
    low, high = quantile(levels, 0.03), quantile(levels, 0.97)
    spare = max(0.0, LEAST_RANGE_DB - (high - low)) / 2
    return low - spare, high + spare


def _clock(seconds: float) -> str:
    minutes, rest = divmod(round(seconds), 60)
    return f"{minutes}:{rest:02d}"
