"""Tell the story of an invented student: ``python scripts/tell_story.py docs``.

A student is made with a hidden fault and a hidden ceiling. Each week the tool hears what was
recorded, says whether to go on, and plans; the student practises what was planned and changes
a little by it. The tool is shown recordings alone; what is hidden is told beside it.
"""

from __future__ import annotations

import argparse
import math
import tempfile
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from pathlib import Path

import numpy as np

from evenhand.acts.takes.history import read_history
from evenhand.acts.takes.many import ListedTake, ceiling_drawing, hear_ceiling
from evenhand.acts.takes.request import TakeRequest
from evenhand.acts.weeks.document import day_of_week
from evenhand.acts.weeks.plan import WeekRequest, plan_week
from evenhand.acts.weeks.stages import StudentAdvice, advise_student
from evenhand.acts.weeks.story import day_name
from evenhand.measuring.values import audible_ms
from evenhand.media.open_take import open_take
from evenhand.media.write import write_wav
from evenhand.music.exercise import note_value
from evenhand.music.text import print_exercise
from evenhand.planning.practice import PracticeDay, PracticeItem, PracticePlan
from evenhand.progress.history import History
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.progress.stages.verdicts import Judged
from evenhand.report.plots.advice import advice_picture
from evenhand.report.words.advice import headline, judged_words, reason_words
from evenhand.report.words.ceiling import ceiling_words
from evenhand.report.words.findings import finding_words
from evenhand.report.words.remarks import all_remarks
from evenhand.synthesis.drops import Drop, record_drops
from evenhand.synthesis.instruments import Room, Scene
from evenhand.synthesis.player import simulate
from evenhand.synthesis.playing import Player

NAME = "Noor Halvorsen"
FIRST = date(2026, 9, 7)  # a Monday
WEEKS = 6
MINUTES, DAYS = 15, 5
SCENE = Scene(instrument="pad", noise_snr_db=45.0, room=Room(decay_s=0.3, wet_db=-16.0))
HEARD_DAYS = (0, 2, 4)  # of the week's practice days, those that were recorded
FEWEST_TIMES = 6
WHOLE = ("purpose again", "purpose new", "purpose build")  # not a hand alone, nor a slower step
TEMPOS = (100, 120, 140, 160, 180, 200, 220, 240)
SPREAD_AT_CEILING = 0.82  # of what an ear can tell: three of four repetitions of eight notes are under it
STEEPNESS = 3.0


@dataclass
class Hidden:
    """What nobody tells the tool: the student's hands."""

    ceiling_notes: float = 130.0  # notes a minute in control, at first
    left_weak_db: float = 3.6
    left_late_ms: float = 16.0
    left_damped: bool = True  # a finger of the left hand stops the stick
    strokes: int = 0
    log: list[str] = field(default_factory=list)

    def player(self, item: PracticeItem) -> Player:
        """Play an item: the spread grows with the tempo, and passes what an ear can tell at the ceiling."""
        notes = item.tempo.bpm * float(item.tempo.beat / note_value(item.exercise))
        spread = (
            SPREAD_AT_CEILING * audible_ms(6e4 / notes) * min(notes / self.ceiling_notes, 2.5) ** STEEPNESS
        )
        spread = max(spread, 3.0)
        return Player(
            timekeeper_sd_ms=0.3 * spread,
            hand_sd_ms={"R": 0.9 * spread, "L": spread},
            late_ms={"R": 0.0, "L": self.left_late_ms},
            level_db={"R": 0.0, "L": -self.left_weak_db},
            follow_click=False,
        )

    def practise(self, plan: PracticePlan) -> None:
        """Change by a week of practice: a little for the weak hand, a little for the ceiling."""
        left = sum(
            item.goes * item.repetitions * sum(note.hand == "L" for note in item.exercise.notes)
            for day in plan.days
            for item in day.items
        )
        before = replace(self, log=[])
        self.strokes += left
        gain = 1 - math.exp(-left / 4000)
        self.left_weak_db *= 1 - 1.4 * gain
        self.left_late_ms *= 1 - 0.5 * gain
        self.ceiling_notes *= 1 + 0.16 * gain
        self.log.append(
            f"{left} strokes of the left hand were assigned; it went from {before.left_weak_db:.1f} to "
            f"{self.left_weak_db:.1f} dB softer and from {before.left_late_ms:.0f} to "
            f"{self.left_late_ms:.0f} ms late, the ceiling from {before.ceiling_notes:.0f} to "
            f"{self.ceiling_notes:.0f} notes a minute."
        )


@dataclass
class Story:
    """The story as it is told: lines of the page, and pictures by name."""

    lines: list[str] = field(default_factory=list)
    pictures: dict[str, str] = field(default_factory=dict)


def main() -> None:
    """Tell the story."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("docs", type=Path, help="the folder of the documentation")
    docs = parser.parse_args().docs
    with tempfile.TemporaryDirectory() as folder:
        story = tell(Path(folder))
    (docs / "story.md").write_text("\n".join(story.lines) + "\n", encoding="utf-8")
    for name, svg in story.pictures.items():
        (docs / "pictures" / name).write_text(svg, encoding="utf-8")


def tell(folder: Path) -> Story:
    """Take the student through the weeks."""
    hidden, story = Hidden(), Story()
    table = folder / "takes.csv"
    table.write_text("date,file,exercise,tempo,stroke,kind,hands\n", encoding="utf-8")
    _opening(story, hidden)
    stage, since, before = "rebound", FIRST, None
    for week in range(WEEKS + 1):
        starts = FIRST + timedelta(weeks=week)
        if stage == "rebound":
            _drops(folder, table, hidden, starts, seed=week)
        history = read_history(folder, opens=open_take, student=NAME)
        advice = advise_student(history, COMMON_PATH, stage, since=since, until=starts)
        if advice.advice.proposal in {"go on", "go back"}:
            stage, since = advice.advice.to, starts
        plan = plan_week(
            WeekRequest(MINUTES, DAYS, stage, week, NAME, starts, before), COMMON_PATH, history=history
        )
        _tell_week(story, week, history, advice, plan if week < WEEKS else None)
        if week == WEEKS:
            break
        _play_week(folder, table, hidden, plan, starts, seed=week)
        hidden.practise(plan)
        if stage == "rebound":
            hidden.left_damped = False  # shown in the lesson where the finger is, it lets go
            hidden.log[-1] += " The finger that held the left stick let go."
        story.lines += ["", f"*Hidden from the tool:* {hidden.log[-1]}"]
        before = plan
    _closing(story, history, hidden, folder)
    return story


OPENING = """# A student's six weeks

{name} is invented, and so is everything on this page; only the hearing is real.
`make story` makes a student with a hidden fault and a hidden ceiling,
records takes as a phone beside a pad would, and lets the tool hear them and propose.
The student practises what was proposed and changes by it, by rules written in `scripts/tell_story.py`.
The tool sees recordings and nothing else.
Real hands need longer, and the teacher decides.

*Hidden from the tool:* a finger of the left hand stops the stick;
the left is {weak:.1f} dB softer and {late:.0f} ms late;
in control up to {ceiling:.0f} notes a minute (eighths at 1/8 = {ceiling:.0f})."""


def _opening(story: Story, hidden: Hidden) -> None:
    facts = {"weak": hidden.left_weak_db, "late": hidden.left_late_ms, "ceiling": hidden.ceiling_notes}
    story.lines.append(OPENING.format(name=NAME, **facts))


def _drops(folder: Path, table: Path, hidden: Hidden, on: date, *, seed: int) -> None:
    """Drop the stick four times with each hand, and record it."""
    free = Drop(height_cm=25, restitution=0.82)
    held = replace(free, damped_after=3, damped_restitution=0.35) if hidden.left_damped else free
    take = record_drops([free, held] * 4, SCENE, 100 + seed)
    name = f"drops-{on}.wav"
    write_wav(folder / name, take.samples, take.rate_hz)
    _row(table, f"{on},{name},,,,bounce,R L R L R L R L")


def _play_week(
    folder: Path, table: Path, hidden: Hidden, plan: PracticePlan, starts: date, *, seed: int
) -> None:
    """Record on three days what the day asks to record, and the whole exercise of its focus."""
    for index in HEARD_DAYS:
        on = starts + timedelta(days=day_of_week(index, len(plan.days)))
        for number, item in enumerate(_chosen(plan.days[index])):
            times = max(item.repetitions, FEWEST_TIMES)
            take = simulate(
                item.exercise,
                item.tempo,
                times,
                player=hidden.player(item),
                scene=SCENE,
                seed=1000 * seed + 10 * index + number,
            )
            name = f"{on}-{number}.wav"
            write_wav(folder / name, take.samples, take.rate_hz)
            tempo = f"{item.tempo.beat.numerator}/{item.tempo.beat.denominator}={item.tempo.bpm:g}"
            _row(table, f"{on},{name},{print_exercise(item.exercise)},{tempo},{item.stroke or ''},take,")


def _chosen(day: PracticeDay) -> list[PracticeItem]:
    """Choose what is recorded: the take to record, and the first whole focus piece; no drops."""
    struck = [item for item in day.items if item.stroke is not None]
    focus = [item for item in struck if item.block == "focus" and item.purpose[0].kind in WHOLE]
    return [*(item for item in struck if item.block == "record"), *focus[:1]]


def _row(table: Path, row: str) -> None:
    with table.open("a", encoding="utf-8") as file:
        file.write(row + "\n")


def _tell_week(
    story: Story, week: int, history: History, found: StudentAdvice, plan: PracticePlan | None
) -> None:
    """Tell what was heard and proposed at the beginning of a week."""
    advice = found.advice
    head = "The first lesson" if week == 0 else f"After week {week}"
    story.lines += ["", f"## {head}: {headline(advice)}", "", reason_words(advice, found.path), ""]
    story.lines += [f"- {_condition(each)}" for each in advice.judged]
    newest = max((take.day for take in history.takes), default=None)
    said = [
        finding_words(finding, take.exercise)
        for take in history.takes[-6:]
        if take.day == newest
        for finding in take.findings[:1]
    ]
    if said:
        story.lines += ["", f"Heard last, on {newest:%A}: " + " ".join(dict.fromkeys(said))]
    if plan is not None:
        story.lines += ["", *_planned(plan)]
    if week in {1, WEEKS}:
        name = f"story-advice-{week}.svg"
        story.pictures[name] = advice_picture(found.path, found.advice)
        story.lines += ["", f"![{headline(advice)}](pictures/{name})"]


def _condition(each: Judged) -> str:
    return f"{each.condition.words}: {judged_words(each)}; {each.verdict}"


def _planned(plan: PracticePlan) -> list[str]:
    """Tell the plan: its story, and each day's pieces in a line."""
    minutes = plan.days[0].seconds / 60
    lines = [f"**{' '.join(all_remarks(plan.story))}**", ""]
    lines += [f"{len(plan.days)} days of {minutes:.0f} minutes:", ""]
    for index, day in enumerate(plan.days):
        pieces = "; ".join(
            f"{item.block}: {item.title or print_exercise(item.exercise)}, {item.tempo}" for item in day.items
        )
        lines.append(f"- {day_name(index, len(plan.days), plan.starts)}: {pieces}.")
    return [*lines, "", *all_remarks(plan.notes)]


def _closing(story: Story, history: History, hidden: Hidden, folder: Path) -> None:
    """Set what the tool found beside what was hidden."""
    found = hear_ceiling(_at_several_tempos(folder, hidden), opens=open_take).ceiling
    story.pictures["story-ceiling.svg"] = ceiling_drawing(found)
    end = (
        f"At the end the left hand is {hidden.left_weak_db:.1f} dB softer and {hidden.left_late_ms:.0f} ms "
        f"late, the ceiling at {hidden.ceiling_notes:.0f} notes a minute."
    )
    story.lines += ["", "## What was hidden, and what was found", "", end]
    story.lines += ["In a last lesson the paradiddle is played at several tempos, for `evenhand ceiling`."]
    story.lines += [f"It says: {ceiling_words(found)}", ""]
    story.lines += ["![The ceiling](pictures/story-ceiling.svg)", "", _balance(history)]


def _at_several_tempos(folder: Path, hidden: Hidden) -> tuple[ListedTake, ...]:
    """Record the paradiddle at several tempos, below and above what is hidden."""
    out = []
    for bpm in TEMPOS:
        asked = TakeRequest.read("1/8: RLRR LRLL", f"1/8={bpm}")
        if asked.exercise is None or asked.tempo is None:
            raise AssertionError
        item = PracticeItem(asked.exercise, asked.tempo, 8, 0.0)
        take = simulate(
            asked.exercise, asked.tempo, 8, player=hidden.player(item), scene=SCENE, seed=9000 + bpm
        )
        place = folder / f"ceiling-{bpm}.wav"
        write_wav(place, take.samples, take.rate_hz)
        out.append(ListedTake(bpm, place, asked, place.stem))
    return tuple(out)


def _balance(history: History) -> str:
    """Tell the course of the balance, first take to last."""
    read = [take.measures.get("balance.level_db") for take in history.takes if take.clear]
    values = [each for each in read if each is not None and each.value is not None and each.ci95 is not None]
    if len(values) < 2:
        return "The balance could not be told."
    one, other = values[0], values[-1]
    said = [
        f"{m.value:.1f} dB ({m.ci95[0]:.1f} to {m.ci95[1]:.1f}, from {m.n} hits)"
        for m in (one, other)
        if m.ci95
    ]
    return f"The balance, right minus left, was {said[0]} in the first take and {said[1]} in the last."


if __name__ == "__main__":
    np.seterr(all="raise", under="ignore")
    main()
