"""Pictures of a student's progress: the weeks as small charts, one a measure; and a tempo ceiling.

Conventions: px of the drawing's own units, y downwards; days along x. A take is a small stick, leaning as
its hand holds it (a dot for both), with a whisker for its 95 % range; the trajectory is a line, solid for the
right hand, dashed for the left, faint where chance would do as well; the pale band is what an ear can't tell.
A heavy line at the end is a plateau.

In a ceiling's picture tempo rises to the right, and each repetition is a stick at its tempo. A repetition in
control stands upright on the upper line, another lies on the lower one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

from evenhand.music.text import print_exercise
from evenhand.progress.ceiling.control import TempoCeiling
from evenhand.progress.trends.trajectory import (
    CeilingTrajectory,
    ExerciseProgress,
    MeasureTrajectory,
    StudentProgress,
)
from evenhand.report.plots.marks import HAND_CLASS, dot_path, hand_mark, stick_path
from evenhand.report.plots.markup import (
    Axis,
    Frame,
    axis_over,
    el,
    in_rows,
    lines_in,
    picture,
    px,
    room_px,
    steps_within,
    text_at,
)
from evenhand.report.plots.shell import picture_file
from evenhand.report.words.ceiling import ceiling_course_words, ceiling_words, day_at
from evenhand.report.words.figures import day_words
from evenhand.report.words.progress import (
    chance_note,
    course_name,
    course_words,
    exercise_facts,
    tempo_note,
)
from evenhand.report.words.remarks import remark_words

WIDTH, MARGIN, GUTTER = 1000.0, 28.0, 30.0
COLUMNS = 3
PANEL_W = (WIDTH - 2 * MARGIN - (COLUMNS - 1) * GUTTER) / COLUMNS
PANEL_H, TITLE_H = 132.0, 30.0
ROW_H = TITLE_H + PANEL_H + 42.0
AXIS_W, END_W = 34.0, 12.0
HEAD_H, KEY_Y, KEY_GAP, KEY_LINE = 46.0, 56.0, 20.0, 18.0
LETTER_PX, HEAD_PX, HEAD_LINE = 11.5, 15.0, 19.0
STICK_X, STICK_Y = 2.4, 4.2
WEEK_STEPS_DAYS = tuple(7.0 * weeks for weeks in (1, 2, 4, 8, 13, 26, 52))
MOST_DAY_STEPS = 4.9
FAR = 1.6  # a wished tempo further off than that is not drawn


def progress_picture(progress: StudentProgress) -> str:
    """Draw all exercises of a student as one SVG document."""
    key, y = _key()
    inside = []
    for each in progress.exercises:
        drawn, y = _exercise(each, y)
        inside += drawn
    if not progress.exercises:
        inside.append(text_at(MARGIN, y + 20, "No exercise was heard on two days yet.", class_="said"))
        y += 40
    note = lines_in(chance_note(progress), WIDTH - 2 * MARGIN, LETTER_PX)
    inside += [text_at(MARGIN, y + 6 + i * 16, line) for i, line in enumerate(note)]
    title = f"{progress.student}: the weeks" if progress.student else "The weeks"
    return picture_file(
        "weeks",
        [text_at(MARGIN, 32, title, class_="top"), *key, *inside],
        WIDTH,
        y + 12 + 16 * len(note),
        title=title,
        words=progress_words(progress),
    )


def _key() -> tuple[list[str], float]:
    """Say what the marks are, in rows; return them, and where the charts may begin."""
    marks = [
        ("stick r", stick_path(4, -4, STICK_X, STICK_Y, "R"), 14.0, "right hand"),
        ("stick l", stick_path(4, -4, STICK_X, STICK_Y, "L"), 14.0, "left hand"),
        ("dot both", dot_path(4, -4), 14.0, "both"),
        ("whisker both", "M4 -10v12", 14.0, "95 % range"),
        ("band", "M0 -10h18v12h-18z", 24.0, "what an ear can't tell"),
        ("line both unsure", "M0 -4h20", 26.0, "no more than chance"),
        ("level both", "M0 -4h20", 26.0, "a plateau"),
    ]
    widths = [room + room_px(words, LETTER_PX) for _, _, room, words in marks]
    places = list(in_rows(widths, WIDTH - 2 * MARGIN, KEY_GAP))
    out = []
    for (class_, mark, room, words), (right, row) in zip(marks, places, strict=True):
        x, y = MARGIN + right, KEY_Y + row * KEY_LINE
        out.append(el("path", class_=class_, d=mark, transform=f"translate({px(x)} {px(y)})"))
        out.append(text_at(x + room, y, words))
    return out, KEY_Y + places[-1][1] * KEY_LINE + 22


def progress_words(progress: StudentProgress) -> str:
    """Say the whole picture in words."""
    parts = []
    for each in progress.exercises:
        first = each.takes[0].day
        parts.append(f"{print_exercise(each.exercise)}, {exercise_facts(each)}.")
        parts += [
            f"{course_name(trajectory)}: {course_words(trajectory, first)}"
            for trajectory in each.trajectories
        ]
        if each.ceiling is not None:
            parts.append(f"tempo ceiling: {ceiling_course_words(each.ceiling, first)}")
    return " ".join(parts)


def _exercise(each: ExerciseProgress, y: float) -> tuple[list[str], float]:
    """Draw one exercise's charts in rows; return them and where the next may begin."""
    facts = " ".join(part for part in (f"{exercise_facts(each)}.", tempo_note(each)) if part)
    heads = lines_in(print_exercise(each.exercise), WIDTH - 2 * MARGIN, HEAD_PX)
    out = [text_at(MARGIN, y + 18 + i * HEAD_LINE, line, class_="head") for i, line in enumerate(heads)]
    y += (len(heads) - 1) * HEAD_LINE
    said = lines_in(facts, WIDTH - 2 * MARGIN, LETTER_PX)
    out += [text_at(MARGIN, y + 36 + i * 16, line) for i, line in enumerate(said)]
    y += HEAD_H + (len(said) - 1) * 16
    charts: list[Sequence[MeasureTrajectory] | CeilingTrajectory] = [
        list(group) for _, group in groupby(each.trajectories, key=lambda trajectory: trajectory.followed)
    ]
    if each.ceiling is not None:
        charts.append(each.ceiling)
    first = each.takes[0].day
    days = float((each.takes[-1].day - first).days)
    for place, chart in enumerate(charts):
        row, column = divmod(place, COLUMNS)
        panel = _Panel(MARGIN + column * (PANEL_W + GUTTER), y + row * ROW_H + TITLE_H, days, first)
        out += (
            _ceiling_chart(chart, panel)
            if isinstance(chart, CeilingTrajectory)
            else _measure_chart(chart, panel)
        )
    return out, y + (len(charts) + COLUMNS - 1) // COLUMNS * ROW_H


@dataclass(frozen=True, slots=True)
class _Panel:
    """One chart's place, without its title, and its days."""

    x: float
    y: float
    days: float
    first: date

    def framed(self, up: Axis) -> Frame:
        """Return the chart's frame; where all is of one day, it stands in the middle."""
        low, high = (0.0, self.days) if self.days else (-1.0, 1.0)
        across = Axis(low, high, steps_within(0.0, self.days, WEEK_STEPS_DAYS, MOST_DAY_STEPS))
        left, right = self.x + AXIS_W, self.x + PANEL_W - END_W
        return Frame(left, right, self.y, self.y + PANEL_H, across, up)

    def head(self, words: str) -> str:
        """Write the chart's title."""
        return text_at(self.x, self.y - 12, words, class_="said")

    def scales(self, frame: Frame) -> Iterator[str]:
        """Draw the written values and days."""
        yield from frame.levels()
        yield from frame.places(lambda day: _short_day(day_at(self.first, day)))


def one_curve(course: MeasureTrajectory, first: date, name: str, words: str) -> str:
    """Draw one measure of one hand alone, narrow enough for a phone; ``words`` say the same."""
    panel = _Panel(2.0, TITLE_H, course.points[-1].x_days, first)
    return picture(
        _measure_chart([course], panel, name),
        width=PANEL_W + 16.0,
        height=TITLE_H + PANEL_H + 28.0,
        key="curve",
        title=name,
        words=words,
        class_="chart",
    )


def _measure_chart(trajectories: Sequence[MeasureTrajectory], panel: _Panel, name: str = "") -> Iterator[str]:
    """Draw one measure, both hands in one chart."""
    followed, edge = trajectories[0].followed, trajectories[0].audible_from
    points = [point for trajectory in trajectories for point in trajectory.points]
    values = [edge for p in points for edge in (p.measure.ci95 or ((p.measure.value or 0.0),) * 2)]
    if followed.on_log:
        axis = axis_over(values, least_range=followed.least_range, floor=0.0, tight=True)
    else:
        axis = axis_over([0.0, *values], least_range=followed.least_range, tight=True)
    frame = panel.framed(axis)
    yield panel.head(name or f"{followed.words}, {followed.unit}")
    if edge is not None:
        yield frame.band(0.0 if followed.on_log else -edge, edge)
    yield from panel.scales(frame)
    for trajectory in trajectories:
        yield from _trajectory(trajectory, frame)


def _trajectory(trajectory: MeasureTrajectory, frame: Frame) -> Iterator[str]:
    ink = HAND_CLASS[trajectory.hand]
    whiskers = [
        frame.whisker(p.x_days, *p.measure.ci95) for p in trajectory.points if p.measure.ci95 is not None
    ]
    marks = [
        hand_mark(frame.x(p.x_days), frame.y(p.measure.value or 0.0), STICK_X, STICK_Y, trajectory.hand)
        for p in trajectory.points
    ]
    yield el("path", class_=f"whisker {ink}", d="".join(whiskers))
    yield el("path", class_=f"{'dot' if trajectory.hand is None else 'stick'} {ink}", d="".join(marks))
    line = trajectory.line if trajectory.curve is None else trajectory.curve.line
    if line:
        unsure = (
            " unsure" if trajectory.change is not None and trajectory.change.direction == "can't tell" else ""
        )
        yield el("path", class_=f"line {ink}{unsure}", d=frame.line(line))
    if trajectory.plateau is not None:
        level, since = trajectory.plateau.level.value or 0.0, trajectory.plateau.since_days.value or 0.0
        yield el("path", class_=f"level {ink}", d=frame.line(((since, level), (frame.across.high, level))))


def _ceiling_chart(trajectory: CeilingTrajectory, panel: _Panel) -> Iterator[str]:
    """Draw the ceiling: each week's by itself, its trend with the band, and the wished tempo."""
    beat = f"{trajectory.beat.numerator}/{trajectory.beat.denominator}"
    values = _ceiling_values(trajectory)
    if not values:
        return
    wish = None if trajectory.wish is None else trajectory.wish.tempo_bpm
    near = [] if wish is None or not 1 / FAR < wish / max(values) < FAR else [wish]
    frame = panel.framed(axis_over([*values, *near], least_range=20.0, tight=True))
    yield panel.head(f"tempo ceiling, {beat} a minute")
    if trajectory.band:
        yield frame.ribbon([(day, low, high) for day, _, low, high in trajectory.band])
    yield from panel.scales(frame)
    yield el("path", class_="line both", d=frame.line((day, value) for day, value, _, _ in trajectory.band))
    yield el("path", class_="whisker both", d="".join(_week_spans(trajectory, frame)))
    known = [(week.x_days, week.ceiling.value) for week in trajectory.weeks if week.ceiling.value is not None]
    yield el("path", class_="dot both", d="".join(dot_path(frame.x(day), frame.y(bpm)) for day, bpm in known))
    for bpm in near:
        y = frame.y(bpm)
        yield el("path", class_="asked both", d=frame.level(bpm))
        over = y - 5 if y - 16 > panel.y else y + 13
        yield text_at(frame.left + 3, over, f"wished: {beat} = {bpm:g}")


def _ceiling_values(trajectory: CeilingTrajectory) -> list[float]:
    """Return the tempos that must be inside: the band, or where there is none what each week tells."""
    if trajectory.band:
        return [edge for _, _, low, high in trajectory.band for edge in (low, high)]
    return [
        edge
        for week in trajectory.weeks
        for edge in (*(week.ceiling.ci95 or ()), week.at_least_bpm, week.at_most_bpm)
        if edge is not None
    ]


def _week_spans(trajectory: CeilingTrajectory, frame: Frame) -> Iterator[str]:
    """Draw a week's interval, open to a side where it is not bounded."""
    for week in trajectory.weeks:
        low, high = week.ceiling.ci95 or (week.at_least_bpm, week.at_most_bpm)
        if low is not None or high is not None:
            ends = frame.up.low if low is None else low, frame.up.high if high is None else high
            yield frame.whisker(week.x_days, *ends)


def _short_day(day: date) -> str:
    number, month = day_words(day).split(" ")
    return f"{number} {month[:3]}"


CEILING_WIDTH, HEIGHT = 640.0, 250.0
LEFT, RIGHT, TOP, BOTTOM = 92.0, 24.0, 46.0, 44.0
STICK_PX, LYING_PX = 15.0, 5.0
CHANCES = {1.0: "every time", 0.75: "3 of 4", 0.5: "1 of 2", 0.0: "never"}


def ceiling_picture(found: TempoCeiling) -> str:
    """Draw a ceiling as one SVG document of its own, or the tries alone where it is not known."""
    if found.tried:
        tempos = axis_over([point[0] for point in found.curve], least_range=20.0)
        frame = Frame(LEFT, CEILING_WIDTH - RIGHT, TOP, HEIGHT - BOTTOM, tempos, Axis(0.0, 1.0))
        inside = [*_curve(found, frame), *_sticks(found, frame), *_found(found, frame)]
    else:
        inside = [text_at(LEFT, HEIGHT / 2, remark_words(found.why), class_="said")]
    return picture_file(
        "ceiling", inside, CEILING_WIDTH, HEIGHT, title="Tempo ceiling", words=ceiling_words(found)
    )


def _curve(found: TempoCeiling, frame: Frame) -> Iterator[str]:
    """Draw the chance of control at each tempo with its band, and both scales."""
    yield frame.ribbon([(tempo, low, high) for tempo, _, low, high in found.curve])
    yield from frame.places(lambda bpm: f"{bpm:.{frame.across.decimals}f}", below_px=18.0)
    yield el("path", class_="grid", d="".join(map(frame.level, CHANCES)))
    for chance, words in CHANCES.items():
        yield text_at(LEFT - 10, frame.y(chance) + 4, words, class_="n")
    yield el("path", class_="line both", d=frame.line((tempo, chance) for tempo, chance, _, _ in found.curve))


def _sticks(found: TempoCeiling, frame: Frame) -> Iterator[str]:
    well, upright = [], f"v{px(-STICK_PX)}"
    not_well, lying = [], f"h{px(2 * LYING_PX)}"
    for each in found.tried:
        x = frame.x(each.tempo_bpm)
        if each.controlled:
            well.append(f"M{px(x)} {px(TOP - 3)}{upright}")
        else:
            not_well.append(f"M{px(x - LYING_PX)} {px(frame.bottom + 5)}{lying}")
    yield el("path", d="".join(well), class_="well")
    yield el("path", d="".join(not_well), class_="not")


def _found(found: TempoCeiling, frame: Frame) -> Iterator[str]:
    beat = f"{found.beat.numerator}/{found.beat.denominator}"
    yield text_at(CEILING_WIDTH - RIGHT, HEIGHT - 6, f"tempo, {beat} = beats a minute", class_="n")
    if found.ceiling.value is None or found.ceiling.ci95 is None:
        yield text_at(LEFT, 18, remark_words(found.why), class_="said")
        return
    low, high = map(frame.x, found.ceiling.ci95)
    x = frame.x(found.ceiling.value)
    yield el("path", d=f"M{px(low)} {px(frame.y(0.75))}H{px(high)}", class_="between")
    yield el("path", d=f"M{px(x)} {px(TOP - 22)}V{px(frame.bottom)}", class_="asked")
    yield text_at(x, TOP - 28, f"{beat} = {found.ceiling.value:.0f}", class_="said m")
