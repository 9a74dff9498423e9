"""The figures of a take as small tables for the terminal."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from rich.console import Group
from rich.table import Table
from rich.text import Text

from evenhand.cli.tables.layout import INKS, STICKS, hand_head
from evenhand.measuring.values import Measure, Measures, PositionMeasures
from evenhand.music.exercise import HANDS, Exercise, Hand
from evenhand.report.words.figures import decimals_for, interval_words, plain, signed

UNITLESS = ("", "share", "ratio")
NOTE_COLUMN, LABEL_COLUMN = 6, 12

SIDE_BY_SIDE_WIDTH = 94
LABEL_WIDTH = 25
KEY = "each: the figure; the range it lies in with 95 % certainty; from how many hits or pairs"

Cells = tuple[str, str, str]
Of = Callable[[Measures, Hand], Measure | None]


def _of_hand(name: str) -> Of:
    """Take a figure of a hand by its name."""
    return lambda measures, hand: getattr(measures.hands[hand], name) if hand in measures.hands else None


def _of_pairs(kind: str, name: str) -> Of:
    """Take a figure of a hand's doubles or graces by its name."""

    def of(measures: Measures, hand: Hand) -> Measure | None:
        found = getattr(measures, kind).get(hand)
        return None if found is None else getattr(found, name)

    return of


ROWS: tuple[tuple[str, Of, bool], ...] = (  # what it is called, where it stands, whether its sign is shown
    ("timing, mean", _of_hand("timing_mean_ms"), True),
    ("timing, spread", _of_hand("timing_sd_ms"), False),
    ("own intervals, spread", _of_hand("interval_sd_ms"), False),
    ("level, mean", _of_hand("level_mean_db"), False),
    ("level, spread", _of_hand("level_sd_db"), False),
    ("accents over unaccented", lambda measures, hand: measures.accents_over_taps_db.get(hand), True),
    ("doubles: second − first", _of_pairs("doubles", "second_minus_first_db"), True),
    ("doubles: short share", _of_pairs("doubles", "short_share"), False),
    ("graces: ahead by", _of_pairs("graces", "gap_ms"), False),
    ("graces: level", _of_pairs("graces", "level_db"), True),
)

Whole = Callable[[Measures], Measure | None]
WHOLE: tuple[tuple[str, Whole, bool], ...] = (
    ("right − left, level", lambda measures: measures.balance_level_db, True),
    ("right − left, timing", lambda measures: measures.balance_timing_ms, True),
    ("tempo", lambda measures: measures.tempo_bpm, False),
    ("drift", lambda measures: measures.drift_bpm_per_min, True),
    ("spread over the take", lambda measures: measures.spread_trend_ms_per_min, True),
    ("level over the take", lambda measures: measures.level_trend_db_per_min, True),
    ("timekeeper, spread", lambda measures: measures.timekeeper_sd_ms, False),
)


def figure_table(measures: Measures, *, width: int) -> Group:
    """Set out the figures, each with its 95 % range and its count: by hand, then of both.

    Where there is width the hands stand side by side, else one above the other.
    """
    both = [(label, of(measures), sign) for label, of, sign in WHOLE]
    tables = _side_by_side(measures) if width >= SIDE_BY_SIDE_WIDTH else _stacked(measures)
    parts = [*tables, _table([Text("both", style="dim")], _rows([both]))]
    return Group(*(part for table in parts for part in (table, "")), Text(KEY, style="dim"))


def _side_by_side(measures: Measures) -> list[Table]:
    """Set both hands' figures into one table."""
    return [_table([hand_head(hand) for hand in HANDS], _rows([_of_one(measures, hand) for hand in HANDS]))]


def _stacked(measures: Measures) -> list[Table]:
    """Set each hand's figures into a table of its own."""
    return [_table([hand_head(hand)], _rows([_of_one(measures, hand)])) for hand in HANDS]


Row = tuple[str, Measure | None, bool]


def _of_one(measures: Measures, hand: Hand) -> list[Row]:
    """Take one hand's figures; with accents, the levels are of the unaccented notes."""
    accents = bool(measures.accents_over_taps_db)
    return [
        (f"unaccented, {label}" if accents and label.startswith("level") else label, of(measures, hand), sign)
        for label, of, sign in ROWS
    ]


def _rows(columns: list[list[Row]]) -> list[tuple[str, list[Cells]]]:
    """Lay figures side by side, leaving out rows that no column has."""
    return [
        (row[0][0], [_cells(measure, sign=sign) for _, measure, sign in row])
        for row in zip(*columns, strict=True)
        if any(measure is not None for _, measure, _ in row)
    ]


def _table(heads: list[Text], rows: list[tuple[str, list[Cells]]]) -> Table:
    """Set out rows of figures under their heads, without boxes."""
    table = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, show_edge=False)
    table.add_column("", no_wrap=True, min_width=LABEL_WIDTH)
    for head in heads:
        table.add_column(head, justify="right", no_wrap=True, min_width=10)
        table.add_column("95 % range", style="dim", no_wrap=True, min_width=14)
        table.add_column("from", style="dim", no_wrap=True, min_width=4)
    for label, figures in rows:
        table.add_row(label, *(cell for figure in figures for cell in figure))
    return table


def note_strip(exercise: Exercise, measures: Measures, middle_db: float, *, width: int) -> Group:
    """Set out the exercise note by note: its sticks, and how late and how loud each is on average.

    ``middle_db`` is the take's middle level, which levels are told against.
    """
    by_position = {each.position: each for each in measures.positions}
    if not by_position:
        return Group()
    per_line = max(4, (width - LABEL_COLUMN) // NOTE_COLUMN)
    lines: list[str | Table] = []
    for start in range(0, len(exercise.notes), per_line):
        stop = min(start + per_line, len(exercise.notes))
        lines += ["", _strip(exercise, by_position, range(start, stop), middle_db)]
    return Group(*lines, Text("late: mean; level: mean, against the take's middle", style="dim"))


def _strip(
    exercise: Exercise, by_position: Mapping[int, PositionMeasures], positions: range, level_db: float
) -> Table:
    """Set out one line of notes."""
    table = Table.grid()
    table.add_column(style="dim", width=LABEL_COLUMN, no_wrap=True)
    for _ in positions:
        table.add_column(justify="right", width=NOTE_COLUMN, no_wrap=True)
    notes = [exercise.notes[position] for position in positions]
    found = [by_position.get(position) for position in positions]
    sticks = [
        Text(f"{'>' if note.accent else ''}{STICKS[note.hand]}", style=f"bold {INKS[note.hand]}")
        if note.hand is not None
        else Text("-", style="dim")
        for note in notes
    ]
    table.add_row("", *sticks)
    table.add_row("late ms", *(_short(each.timing_ms if each else None, 0.0, 0) for each in found))
    table.add_row("level dB", *(_short(each.level_db if each else None, level_db, 1) for each in found))
    if any(each is not None and each.missed for each in found):
        table.add_row("missed", *(str(each.missed) if each and each.missed else "" for each in found))
    return table


def _short(measure: Measure | None, middle: float, decimals: int) -> str:
    """Write a figure as it stands to the middle, without its interval."""
    if measure is None or measure.value is None:
        return ""
    return signed(measure.value - middle, decimals)


def _cells(measure: Measure | None, *, sign: bool) -> Cells:
    """Write a figure, its interval and its count; too few is said."""
    if measure is None:
        return "–", "", ""
    if measure.value is None:
        return "too few", "", f"{measure.n}{f' of {measure.needs}' if measure.needs else ''}"
    decimals = decimals_for(measure.unit)
    value = signed(measure.value, decimals) if sign else plain(measure.value, decimals)
    interval = "" if measure.ci95 is None else interval_words(measure.ci95, decimals)
    return with_unit(value, measure.unit), interval, f"{measure.n}"


def with_unit(figure: str, unit: str) -> str:
    """Write a figure with its unit, where it has one.

    >>> with_unit("6.2", "ms"), with_unit("0.49", "share")
    ('6.2 ms', '0.49')
    """
    return figure if unit in UNITLESS else f"{figure} {unit}"
