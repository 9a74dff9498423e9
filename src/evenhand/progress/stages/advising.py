"""What a student's takes say of going on, staying, or going back; the teacher decides.

Conventions: days are counted as ordinals (``date.toordinal``). A stage's takes are those of its stroke that
show what it is about and are not slower than it goes (``gate``); takes whose stroke is not said count where
it is known since when the student has been in the stage. Takes that do not tell which hand is which count for
days only.

- All conditions met, and the stage's least weeks over: go on.
- A condition of the stage before is clearly not met any more, in takes of the same two weeks: go back. The
  same where the stage's greatest weeks are over and its own takes clearly fail what the stage before asked.
- A condition is not met: stay. None is, but some cannot be told: can't tell.
- What is a wish, and what no video shows where none has to, decides nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.errors import WrongOptions
from evenhand.progress.history import History, PastTake
from evenhand.progress.stages.conditions import WINDOW_DAYS, ShownSoFar, judge
from evenhand.progress.stages.gate import fast_enough, shows
from evenhand.progress.stages.path import Condition, PracticePath, Stage
from evenhand.progress.stages.verdicts import Advice, Judged, Proposal
from evenhand.take import Remark

DAYS_A_WEEK = 7
COUNTED = ("days", "free_drops")  # what is only counted lapses by itself: no reason to go back


def advise(
    history: History,
    path: PracticePath,
    stage_name: str,
    *,
    since_day: int | None = None,
    until_day: int | None = None,
) -> Advice:
    """Judge a stage's conditions from a student's history, and propose what comes next.

    ``since_day`` is the day from which the student has been in the stage, ``until_day`` the
    last day that counts.

    Raises
    ------
    WrongOptions
        Where the path has no such stage.
    """
    stage = path.stage(stage_name)
    if stage is None:
        must_be = f"one of {', '.join(each.name for each in path.stages)}"
        raise WrongOptions(got=f"the stage {stage_name!r}", must_be=must_be)
    everything = ShownSoFar(history.takes, history.bounces)
    until = max(everything.days, default=0) if until_day is None else until_day
    lasting, unsaid = everything.between(since_day or 0, until), since_day is not None
    shown = _shown(lasting, stage, unsaid=unsaid)
    slow = len(_of_stage(lasting, stage, unsaid=unsaid)) - len(shown.takes) if stage.stroke else 0
    judged = tuple(judge(condition, shown) for condition in stage.conditions)
    weeks = _weeks(shown, path, stage, since_day, until)
    slipped = _slipped(everything.between(until - WINDOW_DAYS + 1, until), path, stage, shown, weeks)
    proposal = _proposal(stage, path, shown, judged, slipped, weeks)
    to = {"go on": path.after(stage), "go back": path.before(stage)}.get(proposal) or stage
    return Advice(
        stage=stage.name,
        proposal=proposal,
        to=to.name,
        judged=judged,
        weeks_in_stage=weeks,
        slipped=slipped,
        takes=len(shown.takes) + len(shown.bounces),
        days=len(shown.days),
        notes=tuple(_notes(history, path, stage, shown, weeks, slow)),
    )


def _shown(everything: ShownSoFar, stage: Stage, *, unsaid: bool = False) -> ShownSoFar:
    """Gather what was shown of a stage; ``unsaid``: takes count, too, whose stroke is not said."""
    if stage.stroke is None:
        return ShownSoFar((), everything.bounces)
    return ShownSoFar(tuple(t for t in _of_stage(everything, stage, unsaid=unsaid) if fast_enough(stage, t)))


def _of_stage(everything: ShownSoFar, stage: Stage, *, unsaid: bool) -> list[PastTake]:
    """List the takes that show what a stage is about, however slow."""
    strokes = (stage.stroke, None) if unsaid else (stage.stroke,)
    return [take for take in everything.takes if take.stroke in strokes and shows(stage, take)]


def _weeks(
    shown: ShownSoFar, path: PracticePath, stage: Stage, since: int | None, until: int
) -> float | None:
    """Return the weeks in the stage; None where its takes show another stage, too, and it is not said."""
    first = since
    if first is None and not _sharing(shown, path, stage):
        first = min(shown.days, default=None)
    return (until - first + 1) / DAYS_A_WEEK if first is not None and until >= first else None


def _sharing(shown: ShownSoFar, path: PracticePath, stage: Stage) -> list[Stage]:
    """List the other stages that a stage's takes show as well."""
    others = (each for each in path.stages if each is not stage and each.stroke == stage.stroke)
    return [each for each in others if any(shows(each, take) for take in shown.takes)]


def _slipped(
    lately: ShownSoFar, path: PracticePath, stage: Stage, shown: ShownSoFar, weeks: float | None
) -> tuple[Judged, ...]:
    """Find what the stage before asked and is now clearly not met."""
    before = path.before(stage)
    if before is None:
        return ()
    asked = [each for each in before.conditions if each.measure not in COUNTED and each.holds != "never"]
    found = _not_met(asked, _shown(lately, before)) if before.stroke != stage.stroke else []
    if not found and weeks is not None and weeks > stage.weeks[1]:
        found = _not_met(asked, shown)
    return tuple(found)


def _not_met(asked: Sequence[Condition], shown: ShownSoFar) -> list[Judged]:
    judged = [judge(condition, shown) for condition in asked]
    return [each for each in judged if each.verdict == "not met"]


def _proposal(
    stage: Stage,
    path: PracticePath,
    shown: ShownSoFar,
    judged: Sequence[Judged],
    slipped: Sequence[Judged],
    weeks: float | None,
) -> Proposal:
    judged = [each for each in judged if each.counts]
    if not judged or not shown.days:
        return "can't tell"
    if all(each.verdict == "met" for each in judged):
        early = weeks is not None and weeks < stage.weeks[0]
        return "stay" if early or path.after(stage) is None else "go on"
    if slipped:
        return "go back"
    if any(each.verdict == "not met" for each in judged):
        return "stay"
    return "can't tell"


def _notes(
    history: History, path: PracticePath, stage: Stage, shown: ShownSoFar, weeks: float | None, slow: int
) -> list[Remark]:
    """Say what the proposal cannot rest on."""
    notes = []
    unsaid = sum(take.stroke is None for take in history.takes)
    if stage.stroke is not None and not shown.takes and unsaid:
        notes.append(Remark("strokes not said", {"n": unsaid}))
    if slow:
        notes.append(Remark("takes slower than the stage", {"n": slow}))
    sharing = [each.name for each in _sharing(shown, path, stage)]
    if weeks is None and sharing:
        *most, last = sharing
        named = f"{', '.join(most)} and {last}" if most else last
        notes.append(Remark("stages of one stroke", {"n": len(sharing), "stages": named}))
    unclear = sum(not take.clear for take in shown.takes)
    if unclear:
        notes.append(Remark("hands not told", {"n": unclear}))
    return notes
