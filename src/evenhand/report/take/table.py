"""The figures and the findings of a take on a page: value, unit, 95 % range, count, and what an ear can tell.

Conventions: one row a measure; a measure with too few behind it says how many would do. A finding says what
was heard, its evidence, where in the exercise, and what to practise.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from evenhand.measuring.values import (
    AUDIBLE_LEVEL_DB,
    Evidence,
    Finding,
    HandMeasures,
    HeardTake,
    Measure,
    Measures,
    PositionMeasures,
    audible_ms,
)
from evenhand.music.exercise import HAND_NAMES, Exercise
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


@dataclass(frozen=True, slots=True)
class Figure:
    """One row: what it is, the measure, and what an ear can tell of it.

    ``audible_from`` is None where no threshold of hearing is known; ``about`` is the
    value that means no difference. ``difference`` shows the sign.
    """

    name: str
    measure: Measure
    audible_from: float | None = None
    about: float = 0.0
    difference: bool = False
    trend: bool = False


def figures_table(measures: Measures) -> str:
    """Return the table of all figures of a take."""
    groups = [(name, list(figures)) for name, figures in _groups(measures)]
    bodies = [_body(name, figures) for name, figures in groups if figures]
    names = ("figure", "value", "95 % range", "from", "to the ear")
    heads = [el("th", name, scope="col", role="columnheader") for name in names]
    head = el("thead", el("tr", *heads, role="row"), role="rowgroup")
    caption = el("caption", "Each figure with its 95 % range and the number of hits or pairs behind it.")
    return el("table", caption, head, *bodies, class_="figures", role="table")


def _groups(measures: Measures) -> Iterator[tuple[str, Iterator[Figure]]]:
    audible = audible_ms(measures.interval_ms)
    for hand, each in measures.hands.items():
        yield f"{HAND_NAMES[hand].capitalize()} hand", _hand(each, audible)
    yield "Right minus left", _balance(measures, audible)
    yield "Doubles", _doubles(measures, audible)
    yield "Accents", _accents(measures)
    yield "Grace notes", _graces(measures)
    yield "Over the take", _over(measures)


def _hand(each: HandMeasures, audible: float) -> Iterator[Figure]:
    yield Figure("timing, mean", each.timing_mean_ms, audible, difference=True)
    yield Figure("timing, spread", each.timing_sd_ms, audible)
    yield Figure("own intervals, spread", each.interval_sd_ms, audible)
    yield Figure("level, mean", each.level_mean_db)
    yield Figure("level, spread", each.level_sd_db, AUDIBLE_LEVEL_DB)
    if each.hand_sd_ms is not None:
        yield Figure("the hand's own part of the spread", each.hand_sd_ms)


def _balance(measures: Measures, audible: float) -> Iterator[Figure]:
    yield Figure("level", measures.balance_level_db, AUDIBLE_LEVEL_DB, difference=True)
    yield Figure("timing", measures.balance_timing_ms, audible, difference=True)


def _doubles(measures: Measures, audible: float) -> Iterator[Figure]:
    share = audible / (2 * measures.interval_ms) if measures.interval_ms else None
    for hand, each in measures.doubles.items():
        word = HAND_NAMES[hand]
        yield Figure(
            f"{word}: second minus first", each.second_minus_first_db, AUDIBLE_LEVEL_DB, difference=True
        )
        yield Figure(f"{word}: first interval's share (0.5 is even)", each.short_share, share, about=0.5)


def _accents(measures: Measures) -> Iterator[Figure]:
    for hand, measure in measures.accents_over_taps_db.items():
        yield Figure(
            f"{HAND_NAMES[hand]}: accents over unaccented", measure, AUDIBLE_LEVEL_DB, difference=True
        )


def _graces(measures: Measures) -> Iterator[Figure]:
    for hand, each in measures.graces.items():
        yield Figure(f"before a {HAND_NAMES[hand]}: ahead by", each.gap_ms)
        yield Figure(f"before a {HAND_NAMES[hand]}: level against it", each.level_db, difference=True)


def _over(measures: Measures) -> Iterator[Figure]:
    yield Figure("tempo", measures.tempo_bpm)
    yield Figure("drift", measures.drift_bpm_per_min, difference=True, trend=True)
    if measures.spread_trend_ms_per_min is not None:
        yield Figure("spread over the take", measures.spread_trend_ms_per_min, difference=True, trend=True)
    if measures.level_trend_db_per_min is not None:
        yield Figure("level over the take", measures.level_trend_db_per_min, difference=True, trend=True)
    if measures.timekeeper_sd_ms is not None:
        yield Figure("the timekeeper's part of the spread", measures.timekeeper_sd_ms)


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
        el("th", esc(figure.name), scope="row", role="rowheader"),
        el("td", value_words(measure, difference=figure.difference), role="cell", class_="v"),
        el("td", esc(interval), role="cell", class_="i"),
        el("td", el("span", "from ", class_="lead"), str(measure.n), role="cell", class_="c"),
        el("td", esc(side_words(figure)), role="cell", class_=_side_class(figure)),
        role="row",
    )


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
    accent = " accent" if exercise.notes[each.position].accent else ""
    timing, level = each.timing_ms, each.level_db
    relative = None if level.value is None else level.value - middle_db
    shifted = None if level.ci95 is None else (level.ci95[0] - middle_db, level.ci95[1] - middle_db)
    return (
        str(each.position + 1),
        HAND_NAMES[each.hand] + accent,
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


def findings_list(take: HeardTake) -> str:
    """Return the findings in their order; "" where there are none."""
    items = [_finding(finding, take.exercise) for finding in take.findings]
    return el("ol", *items, class_="findings") if items else ""


def _finding(finding: Finding, exercise: Exercise | None) -> str:
    parts = [el("p", prose(finding_words(finding, exercise)), class_="said")]
    if finding.evidence is not None:
        parts.append(el("p", _evidence(finding.evidence), class_="evidence"))
        parts.append(_where(finding.evidence, exercise))
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


def measure_words(name: str) -> str:
    """Call a measure as the tables of figures call it.

    >>> measure_words("hands.L.timing_mean_ms"), measure_words("balance.timing_ms")
    ('left hand, timing, mean', 'right minus left, timing')
    """
    *path, last = name.split(".")
    hand = next((f"{words} hand" for each, words in HAND_NAMES.items() if each in path), "")
    words = CALLED.get(name) or CALLED.get(last) or last.rpartition("_")[0].replace("_", " ") or last
    return ", ".join(part for part in (hand, words) if part)


CALLED = {
    "timing_mean_ms": "timing, mean",
    "timing_sd_ms": "timing, spread",
    "interval_sd_ms": "own intervals, spread",
    "level_mean_db": "level, mean",
    "level_sd_db": "level, spread",
    "balance.timing_ms": "right minus left, timing",
    "balance.level_db": "right minus left, level",
    "second_minus_first_db": "doubles, second minus first",
    "short_share": "doubles, first interval's share",
    "over_taps_db": "accents over unaccented",
    "gap_ms": "graces, ahead by",
    "drift_bpm_per_min": "drift",
    "spread_trend_ms_per_min": "spread over the take",
    "level_trend_db_per_min": "level over the take",
    "run_from_click_ms": "away from the click over the take",
    "timing_ms": "timing, against the hand's other notes",
    "missed": "missed, share",
}


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
        el("u", note.hand or "-") if i in marked else (note.hand or "-")
        for i, note in enumerate(exercise.notes)
    )
    return el(
        "p", el("span", letters, class_="sticking", aria_hidden="true"), " ", words, class_="evidence where"
    )
