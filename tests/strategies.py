"""Hypothesis strategies for the domain's values."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from hypothesis import strategies as st

from evenhand.music.exercise import Exercise, Hand, Meter, Note

VALUES = tuple(
    Fraction(top, bottom)
    for top, bottom in [
        (1, 1), (1, 2), (1, 4), (1, 8), (1, 16), (1, 32), (1, 64),
        (3, 4), (3, 8), (3, 16), (3, 32), (7, 16),
        (1, 3), (1, 6), (1, 12), (1, 24), (1, 48), (1, 20), (1, 28), (1, 10), (1, 9), (5, 16), (2, 1),
    ]
)  # fmt: skip

hands: st.SearchStrategy[Hand] = st.sampled_from(("R", "L"))
meters = st.builds(Meter, st.integers(1, 13), st.sampled_from((2, 4, 8, 16)))


_GRACES: tuple[tuple[Hand, ...], ...] = ((), ("L",), ("R",), ("L", "L"), ("R", "L"), ("L", "L", "R"))
_STRUCK: tuple[Note, ...] = tuple(
    Note(hand, Fraction(1), accent, graces, buzz)
    for graces in _GRACES
    for buzz in (False, True)
    for accent in (False, True)
    for hand in ("R", "L")
)
_PLAIN = _STRUCK[:4] * 6  # drawn as often as all the ornaments together


@st.composite
def notes(draw: st.DrawFn, value: Fraction, *, rests: bool = True) -> Note:
    """Draw a note of this value: plain mostly, with every ornament now and then."""
    kinds: tuple[Note, ...] = (*_PLAIN, *_STRUCK, *((Note(None, Fraction(1)),) * 6 if rests else ()))
    note: Note = draw(st.sampled_from(kinds))
    return replace(note, value=value)


@st.composite
def exercises(draw: st.DrawFn, max_runs: int = 4, max_run: int = 9) -> Exercise:
    """Draw a readable exercise: runs of any values, with bar lines where bars are even."""
    meter = draw(st.none() | meters)
    written: list[Note] = [draw(notes(draw(st.sampled_from(VALUES)), rests=False))]
    for _ in range(draw(st.integers(0, max_runs))):
        value = draw(st.sampled_from(VALUES))
        written += [draw(notes(value)) for _ in range(draw(st.integers(1, max_run)))]
    bars = _bar_lines(written, meter) if draw(st.booleans()) else ()
    return Exercise(tuple(written), meter, bars)


def _bar_lines(written: list[Note], meter: Meter | None) -> tuple[int, ...]:
    """Put bar lines as long as bars come out even (without a meter: one at the end)."""
    if meter is None:
        return (len(written),)
    lines, length = [], Fraction(0)
    for position, note in enumerate(written, start=1):
        length += note.value
        if length > meter.bar:
            break
        if length == meter.bar:
            lines.append(position)
            length = Fraction(0)
    return tuple(lines)


_SIGNED = (
    *("R", "L", "-", "R", "L", ">R", "^L", "lR", "rrL", "R~", "(L)", "(RL)", "(rL~)", "B", ">B", "Rx", "Lo"),
    *("Lk", "R///", "L//", ">lR///", "p R", "mf cresc L", "dim R", "ff B"),
)
_HELD = ("R _", "R~ _ _", "R~+ L", "R///+ L//+ R", "1/8: {3 RLR}", "1/16: {5 RLRLR}")
_FOLLOWED = (*_HELD, "1/16: {7:6 R-R LRL R}", "1/8: {4 R//LRL}", "1/4: {3 R 1/8: L}")
_WRITTEN_VALUES = ("1/4:", "1/8:", "1/16:", "3/16:", "1/12:", "5/16:")


@st.composite
def signed_texts(draw: st.DrawFn) -> str:
    """Draw the text of an exercise with every sign there is: short bars, repeats, endings, meters."""
    opening = draw(st.sampled_from(("", "4/4", "count", "pickup", "3+2+2/8 count")))
    bars = [draw(_bar()) for _ in range(draw(st.integers(1, 4)))]
    if opening == "pickup":
        bars[0] += " |"
    elif opening:
        bars = [draw(_full_bar(opening.split()[0])) for _ in bars] if "/" in opening else bars
    return f"{opening} 1/8: R {' '.join(bars)}" if "/" not in opening else f"{opening} {' '.join(bars)}"


@st.composite
def _bar(draw: st.DrawFn) -> str:
    """Draw some notes, now and then repeated, with endings or without."""
    run = draw(_run())
    kind = draw(st.sampled_from(("", "", "|: {} :|", "|: {} :|x3", "|: {} [1 {} :| [2 {} ]")))
    return kind.format(run, draw(_run()), draw(_run())) if kind else run


@st.composite
def _run(draw: st.DrawFn) -> str:
    notes = draw(st.lists(st.sampled_from(_SIGNED + _FOLLOWED), min_size=1, max_size=4))
    value = draw(st.sampled_from(("", *_WRITTEN_VALUES)))
    return f"{value} L {' '.join(notes)} 1/8: R"


@st.composite
def _full_bar(draw: st.DrawFn, meter: str) -> str:
    """Draw a bar of eighths of a meter, and perhaps another meter after it."""
    count = 8 if meter == "4/4" else 7
    signs = ("R", "L", "(L)", "B", "f R", "Rx", ">R")
    notes = draw(st.lists(st.sampled_from(signs), min_size=count, max_size=count))
    changing = f"{{}} | 2/4 1/4: RL | 4/4 RLRL | {meter} {{}} |"
    form = draw(st.sampled_from(("{} |", "{} |", "|: {} :|", changing)))
    bar = "1/8: " + " ".join(notes)
    return form.format(bar, bar)
