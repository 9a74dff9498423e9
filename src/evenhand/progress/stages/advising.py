"""What a student's takes say of going on, staying, or going back; the teacher decides.

Conventions: days are counted as ordinals (``date.toordinal``). A stage's takes are those of its stroke; takes
whose stroke is not said count where it is known since when the student has been in the stage. Takes that do
not tell which hand is which count for days only.

- All conditions met, and the stage's least weeks over: go on.
- A condition of the stage before is clearly not met any more, in takes of the same two weeks: go back. The
  same where the stage's greatest weeks are over and its own takes clearly fail what the stage before asked.
- A condition is not met: stay. None is, but some cannot be told: can't tell.
"""

from __future__ import annotations

from collections.abc import Sequence

from evenhand.errors import WrongOptions
from evenhand.progress.history import History
from evenhand.progress.stages.conditions import WINDOW_DAYS, ShownSoFar, judge
from evenhand.progress.stages.path import Advice, Condition, Judged, PracticePath, Proposal, Stage
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
    shown = _shown(everything.between(since_day or 0, until), stage, unsaid=since_day is not None)
    judged = tuple(judge(condition, stage, shown) for condition in stage.conditions)
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
        notes=tuple(_notes(history, path, stage, shown, weeks)),
    )


def _shown(everything: ShownSoFar, stage: Stage, *, unsaid: bool = False) -> ShownSoFar:
    """Gather what was shown of a stage; ``unsaid``: takes count, too, whose stroke is not said."""
    if stage.stroke is None:
        return ShownSoFar((), everything.bounces)
    strokes = (stage.stroke, None) if unsaid else (stage.stroke,)
    return ShownSoFar(tuple(take for take in everything.takes if take.stroke in strokes))


def _weeks(
    shown: ShownSoFar, path: PracticePath, stage: Stage, since: int | None, until: int
) -> float | None:
    """Return the weeks in the stage; None where several stages share its stroke and it is not said."""
    sharing = [each for each in path.stages if each.stroke == stage.stroke]
    first = since
    if first is None and len(sharing) == 1:
        first = min(shown.days, default=None)
    return (until - first + 1) / DAYS_A_WEEK if first is not None and until >= first else None


def _slipped(
    lately: ShownSoFar, path: PracticePath, stage: Stage, shown: ShownSoFar, weeks: float | None
) -> tuple[Judged, ...]:
    """Find what the stage before asked and is now clearly not met."""
    before = path.before(stage)
    if before is None:
        return ()
    asked = [each for each in before.conditions if each.measure not in COUNTED]
    found = _not_met(asked, before, _shown(lately, before)) if before.stroke != stage.stroke else []
    if not found and weeks is not None and weeks > stage.weeks[1]:
        found = _not_met(asked, before, shown)
    return tuple(found)


def _not_met(asked: Sequence[Condition], stage: Stage, shown: ShownSoFar) -> list[Judged]:
    judged = [judge(condition, stage, shown) for condition in asked]
    return [each for each in judged if each.verdict == "not met"]


def _proposal(
    stage: Stage,
    path: PracticePath,
    shown: ShownSoFar,
    judged: Sequence[Judged],
    slipped: Sequence[Judged],
    weeks: float | None,
) -> Proposal:
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
    history: History, path: PracticePath, stage: Stage, shown: ShownSoFar, weeks: float | None
) -> list[Remark]:
    """Say what the proposal cannot rest on."""
    notes = []
    unsaid = sum(take.stroke is None for take in history.takes)
    if stage.stroke is not None and not shown.takes and unsaid:
        notes.append(Remark("strokes not said", {"n": unsaid}))
    sharing = [each.name for each in path.stages if each.stroke == stage.stroke and each is not stage]
    if weeks is None and sharing and shown.takes:
        notes.append(Remark("stages of one stroke", {"n": len(sharing), "stages": " and ".join(sharing)}))
    unclear = sum(not take.clear for take in shown.takes)
    if unclear:
        notes.append(Remark("hands not told", {"n": unclear}))
    return notes
