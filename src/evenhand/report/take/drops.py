"""Drops on a phone's page: each drop as it bounced, what became of it, and which grip bounces longest.

Conventions: px of the drawing's own units, y downwards; seconds from a drop's first hit along x, heights of
the flights as of a free fall of that length, the same scale for all drops of a picture.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

from evenhand.music.exercise import HAND_NAMES, Hand
from evenhand.progress.bounce.grips import HandGrips
from evenhand.progress.bounce.restitution import HeardDrop
from evenhand.report.plots.marks import HAND_CLASS, cross_path
from evenhand.report.plots.markup import el, esc, picture, prose, px, shortened, text_at
from evenhand.report.plots.shell import prose_lines
from evenhand.report.plots.tests import Flights, tallest_cm
from evenhand.report.words.figures import DROP_CAUTION, count
from evenhand.report.words.remarks import remark_words
from evenhand.report.words.tests import drops_words, grip_lines

WIDTH, LEFT, RIGHT = 340.0, 8.0, 10.0
ROW, ARC, HEAD = 62.0, 36.0, 14.0
MOST_DRAWN, MOST_LETTERS = 24, 30


def stand_drops(drops: Sequence[HeardDrop], hands: Sequence[HandGrips]) -> str:
    """Return what was heard of a take of drops, to the student: words, picture, grips, care."""
    whys = [
        f"Drop {number}: {remark_words(drop.why)}"
        for number, drop in enumerate(drops, start=1)
        if drop.kind != "free"
    ]
    figure = el("figure", el("div", drops_picture(drops), class_="layout phone")) if drops else ""
    compared = [el("h3", "Which grip bounces longest"), *map(_grips, hands)] if hands else []
    top = el("div", el("p", prose(drops_words(drops)), class_="said"), class_="top")
    return el(
        "div",
        top,
        figure,
        prose_lines(whys),
        *compared,
        el("p", esc(DROP_CAUTION), class_="note"),
        class_="heard",
    )


def _grips(found: HandGrips) -> str:
    said, lines = grip_lines(found)
    listed = el("ul", *(el("li", prose(line)) for line in lines), class_="note")
    return el("p", prose(said), class_="said") + listed


def drops_picture(drops: Sequence[HeardDrop]) -> str:
    """Draw drops under each other, narrow enough for a phone."""
    shown = drops[:MOST_DRAWN]
    longest_s = max([0.4, *(drop.rings_s for drop in shown)])
    tallest = max([1.0, *(tallest_cm(drop) for drop in shown)])
    scale = Flights(LEFT + 2, (WIDTH - LEFT - RIGHT) / longest_s, ARC / tallest)
    rows = [part for place, drop in enumerate(shown) for part in _row(place, drop, scale)]
    return picture(
        rows,
        width=WIDTH,
        height=ROW * len(shown) + 4,
        key="stand-drops",
        title="Drops",
        words=" ".join(f"{_title(place, drop)}: {_short(drop)}." for place, drop in enumerate(shown)),
        class_="chart",
    )


def _row(place: int, drop: HeardDrop, scale: Flights) -> Iterator[str]:
    y = ROW * place + HEAD + ARC
    ink = HAND_CLASS[hand_of(drop)]
    hits = [hit - drop.start_s for hit in drop.hits_s]
    yield text_at(LEFT, y - ARC - 3, _title(place, drop), class_="s")
    yield text_at(WIDTH - RIGHT, y - ARC - 3, _short(drop), class_="n")
    yield el("path", class_="grid", d=f"M{px(LEFT)} {px(y)}H{px(WIDTH - RIGHT)}")
    yield el("path", class_=f"line {ink}", d="".join(scale.arc(a, b, y) for a, b in pairwise(hits)))
    yield el("path", class_=f"at {ink}", d="".join(f"M{px(scale.x(t))} {px(y + 2)}v5" for t in hits))
    if drop.damped_from_s is not None:
        x = scale.x(drop.damped_from_s - drop.start_s) + 7
        yield el("path", class_="cross", d=cross_path(x, y - 6, 3.0))


def hand_of(drop: HeardDrop) -> Hand | None:
    """Return a drop's hand, the last part of its label; None where that is not known."""
    named = (drop.label or "").rpartition(",")[2].strip()
    return next((hand for hand in HAND_NAMES if hand == named), None)


def _title(place: int, drop: HeardDrop) -> str:
    hand = hand_of(drop)
    grip = (drop.label or "").rpartition(",")[0]
    named = [f"{HAND_NAMES[hand]} hand" if hand else "", shortened(grip, MOST_LETTERS)]
    return f"{place + 1}  {', '.join(each for each in named if each)}".rstrip()


def _short(drop: HeardDrop) -> str:
    return f"{count(drop.bounces, 'bounce')}, {drop.kind}"
