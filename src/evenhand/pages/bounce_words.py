"""What was heard of dropped sticks, in words: for the terminal and for the page."""

from __future__ import annotations

from evenhand.domain.bounce import BounceComparison, HeardBounce, HeardDrop, LabelBounce
from evenhand.domain.measures import Measure
from evenhand.domain.stroke import CM_PER_INCH, Unit
from evenhand.pages.figures import count, interval_words, listed, plain

HANDS = {"R": "the right hand", "L": "the left hand"}
KEEPS = "It keeps {share} of its speed at each bounce"


def top_words(heard: HeardBounce) -> str:
    """Say the one thing that matters most."""
    if heard.longest is not None:
        return f"The stick bounces longest with {spoken(heard.longest)}."
    free = [drop for drop in heard.drops if drop.kind == "free"]
    if len(heard.labels) > 1:
        names = listed([spoken(label.label) for label in heard.labels])
        return f"Can't tell yet which bounces longest: {names}."
    if not free:
        return "No drop was left alone until it came to rest."
    if len(free) == len(heard.drops):
        return f"{_some(len(free), 'The drop was', 'All drops were')} free: the stick was left alone."
    return f"{len(free)} of {count(len(heard.drops), 'drop')} were free: the stick was left alone."


def _some(number: int, one: str, many: str) -> str:
    return one if number == 1 else many


def spoken(label: str) -> str:
    """Name a hand, or a grip, inside a sentence.

    >>> spoken("R"), spoken("fingertips")
    ('the right hand', 'fingertips')
    """
    return HANDS.get(label, label)


def kept(figure: Measure) -> str:
    """Write a restitution with its interval."""
    if figure.value is None:
        return "too few to tell"
    return f"{plain(figure.value, 2)} ({interval_words(figure.ci95, 2)})"


def height(figure: Measure, unit: Unit) -> str:
    """Write a height with its range.

    >>> height(Measure(20.32, 5, "cm", (19.05, 22.86)), "in")
    '8.0 in (7.5 to 9.0)'
    """
    if figure.value is None:
        return "–"
    per, decimals = (CM_PER_INCH, 1) if unit == "in" else (1.0, 0)
    ends = None if figure.ci95 is None else (figure.ci95[0] / per, figure.ci95[1] / per)
    return f"{plain(figure.value / per, decimals)} {unit} ({interval_words(ends, decimals)})"


def label_line(label: LabelBounce) -> str:
    """Say what was heard of one grip or hand."""
    drops = f"{label.free} of {count(label.drops, 'drop')} free"
    if label.restitution.value is None:
        return f"{label.label}: {drops}; too few to tell how it bounces."
    blows = label.bounces.value
    mean = "" if blows is None else f", {plain(blows, 0)} bounces on average"
    return f"{label.label}: keeps {kept(label.restitution)} of its speed at a bounce{mean}; {drops}."


def pair_line(pair: BounceComparison) -> str:
    """Say how two grips or hands stand to each other."""
    one, other = spoken(pair.first), spoken(pair.second)
    if pair.difference.value is None:
        return f"Between {one} and {other}: can't tell: a free drop is missing."
    figures = f"{plain(pair.difference.value, 3)} of the speed ({interval_words(pair.difference.ci95, 3)})"
    if pair.longer is None:
        return f"Between {one} and {other}: can't tell yet; the difference is {figures}."
    shorter = other if pair.longer == pair.first else one
    return f"It bounces longer with {spoken(pair.longer)} than with {shorter}: by {figures}."


def drop_cells(number: int, drop: HeardDrop, unit: Unit) -> tuple[str, ...]:
    """Return one drop's row: number, label, when, blows, kept, height, kind."""
    return (
        str(number),
        drop.label or "",
        f"{plain(drop.start_s, 2)} s",
        str(drop.bounces),
        kept(drop.restitution),
        height(drop.first_height_cm, unit),
        drop.kind,
    )


DROP_HEADS = ("drop", "with", "at", "bounces", "keeps of its speed", "dropped from", "it was")
HEIGHT_NOTE = (
    "Heights are those of a free fall that takes as long. A stick that turns in the hand falls differently, "
    "so compare heights only with each other; the share of speed kept does not depend on it."
)
DAMPED_NOTE = "A damped drop says how freely it bounced up to there; only free drops are compared."
