"""The figures and the findings of a take on a page: value, unit, 95 % range, count, and what an ear can tell.

Conventions: one row a measure; a measure with too few behind it says how many would do. A finding says what
was heard, its evidence, where in the exercise, and what to practise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from evenhand.measuring.values import Evidence, Finding, HeardTake, Measure, Measures, PositionMeasures
from evenhand.music.exercise import HAND_NAMES, HANDS, Exercise
from evenhand.report.plots.markup import el, esc, prose
from evenhand.report.plots.shell import table
from evenhand.report.words.figures import (
    decimals_for,
    from_words,
    interval_words,
    plain,
    side_of_audible,
    signed,
)
from evenhand.report.words.findings import finding_words, remedy_words
from evenhand.report.words.measures import (
    Figure,
    balance_figures,
    course_figures,
    hand_figures,
    measure_words,
)


def figures_table(measures: Measures) -> str:
    """Return the table of all figures of a take."""
    bodies = [_body(name, figures) for name, figures in _groups(measures) if figures]
    names = ("figure", "value", "95 % range", "from", "to the ear")
    heads = [el("th", name, scope="col", role="columnheader") for name in names]
    head = el("thead", el("tr", *heads, role="row"), role="rowgroup")
    caption = el("caption", "Each figure with its 95 % range and the number of hits or pairs behind it.")
    return el("table", caption, head, *bodies, class_="figures", role="table")


def _groups(measures: Measures) -> Iterator[tuple[str, list[Figure]]]:
    for hand in HANDS:
        yield f"{HAND_NAMES[hand].capitalize()} hand", hand_figures(measures, hand)
    yield "Both hands", balance_figures(measures)
    yield "Over the take", course_figures(measures)


def side_words(figure: Figure) -> str:
    """Say what an ear can tell of a figure, or of a trend whether it can be told from none."""
    measure = figure.measure
    if measure.value is None or measure.ci95 is None:
        return "can't tell yet"
    if figure.trend:
        low, high = measure.ci95
        return "can't tell yet" if low <= 0 <= high else ("rising" if low > 0 else "falling")
    if figure.audible_from is None:
        return "–"
    return side_of_audible(measure, figure.audible_from, about=figure.about) or "can't tell yet"


def _body(name: str, figures: Sequence[Figure]) -> str:
    head = el("tr", el("th", esc(name), colspan=5, scope="rowgroup", role="rowheader"), role="row")
    return el("tbody", head, *(_row(figure) for figure in figures), role="rowgroup")


def _row(figure: Figure) -> str:
    measure = figure.measure
    interval = "" if measure.value is None else interval_words(measure.ci95, decimals_for(measure.unit))
    return el(
        "tr",
        el("th", esc(_named(figure)), scope="row", role="rowheader"),
        el("td", value_words(measure, difference=figure.difference), role="cell", class_="v"),
        el("td", esc(interval), role="cell", class_="i"),
        el("td", el("span", "from ", class_="lead"), str(measure.n), role="cell", class_="c"),
        el("td", esc(side_words(figure)), role="cell", class_=_side_class(figure)),
        role="row",
    )


def _named(figure: Figure) -> str:
    return f"{figure.name} ({figure.about:g} is even)" if figure.about else figure.name


def _side_class(figure: Figure) -> str:
    return "s b" if side_words(figure) == "can be heard" else "s"


def value_words(measure: Measure, *, difference: bool = False) -> str:
    """Write a measure's value with its unit, or how many would do (markup)."""
    if measure.value is None:
        needs = f", {measure.needs} would do" if measure.needs else ""
        return f"too few to judge{needs}"
    write = signed if difference else plain
    written = write(measure.value, decimals_for(measure.unit))
    unit = UNIT_WORDS.get(measure.unit, measure.unit)
    return f"{esc(written)} " + el("span", esc(unit), class_="u") if unit else esc(written)


UNIT_WORDS = {
    "share": "of the pair",
    "bpm/min": "bpm a min",
    "ms/min": "ms a min",
    "dB/min": "dB a min",
}


def notes_table(
    positions: Sequence[PositionMeasures], exercise: Exercise, middle_db: float, clock: str
) -> str:
    """Return the folded picture as figures: a row for each written note."""
    names = ("note", "hand", "timing, ms", "95 %", "from", "level, dB", "95 %", "from", "missed")
    rows = [_note_row(each, exercise, middle_db) for each in positions]
    caption = (
        "Each written note over all repetitions; notes count from 1, rests too. "
        f"Timing against {clock}, level against the take's middle."
    )
    return table(names, rows, caption, label="Each note in figures")


def _note_row(each: PositionMeasures, exercise: Exercise, middle_db: float) -> tuple[str, ...]:
    note = exercise.notes[each.position]
    accent = " accent" if note.accent else ""
    whose = HAND_NAMES[each.hand] if note.one_hand else "both hands" if note.both else "foot"
    timing, level = each.timing_ms, each.level_db
    relative = None if level.value is None else level.value - middle_db
    shifted = None if level.ci95 is None else (level.ci95[0] - middle_db, level.ci95[1] - middle_db)
    return (
        str(each.position + 1),
        whose + accent,
        "–" if timing.value is None else signed(timing.value),
        interval_words(timing.ci95),
        str(timing.n),
        "–" if relative is None else signed(relative),
        interval_words(shifted),
        str(level.n),
        str(each.missed) if each.missed else "",
    )


MOST_SHOWN = 64  # letters of the exercise in which places are marked
SPREADS = ("sd", "spread", "share", "gap")


def findings_list(take: HeardTake, *, practise: bool = True) -> str:
    """Return the findings in their order, each with what to ``practise``; "" where there are none."""
    items = [_finding(finding, take.exercise, practise=practise) for finding in take.findings]
    return el("ol", *items, class_="findings") if items else ""


def _finding(finding: Finding, exercise: Exercise | None, *, practise: bool) -> str:
    parts = [el("p", prose(finding_words(finding, exercise)), class_="said")]
    if finding.evidence is not None:
        parts.append(el("p", _evidence(finding.evidence), class_="evidence"))
        parts.append(_where(finding.evidence, exercise))
    if practise:
        parts.append(remedy_line(finding, exercise))
    return el("li", *parts)


def remedy_line(finding: Finding, exercise: Exercise | None) -> str:
    """Say what to practise; "" where nothing is."""
    remedy = remedy_words(finding, exercise)
    return el("p", prose(f"To practise: {remedy}"), class_="remedy") if remedy else ""


def _evidence(evidence: Evidence) -> str:
    """Write the figure with its interval, count, and the threshold it is held against."""
    is_difference = not any(word in evidence.measure for word in SPREADS) and evidence.unit in {"ms", "dB"}
    parts = [
        f"{esc(measure_words(evidence.measure))}: {value_words(evidence.figure, difference=is_difference)}"
    ]
    if evidence.ci95 is not None:
        words = interval_words(evidence.ci95, decimals_for(evidence.unit))
        parts.append(f"95 % range {esc(words)}")
    parts.append(from_words(evidence.measure, evidence.n))
    if evidence.audible_from is not None:
        threshold = plain(evidence.audible_from, decimals_for(evidence.unit))
        parts.append(f"audible from {esc(threshold)} {esc(evidence.unit)}")
    return "; ".join(parts)


def _where(evidence: Evidence, exercise: Exercise | None) -> str:
    """Mark the finding's notes in the exercise's letters, and name them in words."""
    if not evidence.positions or exercise is None or len(evidence.positions) > MOST_SHOWN // 2:
        return ""
    numbers = ", ".join(str(position + 1) for position in evidence.positions)
    words = el("span", f"{'note' if len(evidence.positions) == 1 else 'notes'} {numbers}")
    if len(exercise.notes) > MOST_SHOWN:
        return el("p", words, class_="evidence where")
    marked = set(evidence.positions)
    letters = "".join(
        el("u", note.letter) if i in marked else note.letter for i, note in enumerate(exercise.notes)
    )
    return el(
        "p", el("span", letters, class_="sticking", aria_hidden="true"), " ", words, class_="evidence where"
    )
