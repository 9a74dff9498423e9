"""What a student's takes say of going on, staying, or going back; the teacher decides.

Conventions: days are counted as ordinals (``date.toordinal``). A stage's takes are those of its stroke; takes
whose stroke is not said count where it is known since when the student has been in the stage. Takes that do
not tell which hand is which count for days only.

- All conditions met, and the stage's least weeks over: go on.
- A condition of the stage before is clearly not met any more, in takes of the same two weeks: go back. The
  same where the stage's greatest weeks are over and its own takes clearly fail what the stage before asked.
- A condition is not met: stay. None is, but some cannot be told: can't tell.

Say in words what was judged and what is proposed.

Conventions: a figure goes with its unit, its 95 % range and its count; differences are right minus left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from fractions import Fraction

from evenhand.errors import WrongOptions
from evenhand.progress.history import History
from evenhand.progress.stages.conditions import WINDOW_DAYS, Shown, judge
from evenhand.progress.stages.path import HAND_NAMES, Advice, Condition, Judged, PracticePath, Proposal, Stage

TEACHER_DECIDES = "This is a proposal. The teacher decides."
_DECIMALS: Mapping[str, int] = {"ms": 1, "dB": 1, "bpm": 0, "bounces": 1, "drops": 0, "days": 0}
_GREATER: Mapping[str, str] = {"hands_apart_ms": "later", "balance_db": "louder"}  # right minus left
_COUNTED: Mapping[str, tuple[str, str]] = {
    "ceiling_bpm": ("repetition", "repetitions"),
    "bounces": ("drop", "drops"),
}


def why_words(
    stage: Stage,
    path: PracticePath,
    proposal: Proposal,
    judged: Sequence[Judged],
    slipped: Sequence[Judged],
    weeks: float | None,
) -> str:
    """Say why that is proposed."""
    if not judged:
        return "The stage has no conditions: nothing can be judged."
    before = path.before(stage)
    if proposal == "go back" and before is not None:
        over = " and the stage has lasted longer than usual" if _is_over(stage, weeks) else ""
        asked = _listed(slipped, before.beat)
        return f"What the stage {before.name} asked is clearly not met any more{over}: {asked}."
    not_met = [each for each in judged if each.verdict == "not met"]
    unsure = [each for each in judged if each.verdict == "can't tell"]
    n = len(judged)
    if not not_met and not unsure:
        return _all_met(stage, path, proposal, n, weeks)
    parts = [f"{n - len(not_met) - len(unsure)} of {n} conditions are met."]
    if not_met:
        parts.append(f"Not met: {_listed(not_met, stage.beat)}.")
    if unsure:
        parts.append(f"Can't tell yet: {_listed(unsure, stage.beat)}.")
    if _is_over(stage, weeks):
        parts.append(f"The stage usually takes {weeks_words(stage.weeks)}, and it has been {weeks:.1f}.")
    return " ".join(parts)


def _all_met(stage: Stage, path: PracticePath, proposal: Proposal, n: int, weeks: float | None) -> str:
    all_of_them = {1: "The one condition is met", 2: "Both conditions are met"}.get(
        n, f"All {n} conditions are met"
    )
    if proposal == "go on":
        return f"{all_of_them}{'' if weeks is None else f', after {count_weeks(weeks)}'}."
    if path.after(stage) is None:
        return f"{all_of_them}, and this is the path's last stage."
    return (
        f"{all_of_them}, but the stage usually takes {weeks_words(stage.weeks)}, and it has been {weeks:.1f}."
    )


def _is_over(stage: Stage, weeks: float | None) -> bool:
    return weeks is not None and weeks > stage.weeks[1]


def weeks_words(weeks: tuple[float, float]) -> str:
    """Write a range of weeks.

    >>> weeks_words((1.0, 2.0)), weeks_words((1.0, 1.0))
    ('1 to 2 weeks', '1 week')
    """
    low, high = weeks
    if low == high:
        return count_weeks(low)
    return f"{low:g} to {count_weeks(high)}"


def count_weeks(weeks: float) -> str:
    """Write a number of weeks.

    >>> count_weeks(1.0), count_weeks(1.43)
    ('1 week', '1.4 weeks')
    """
    said = f"{weeks:.1f}".removesuffix(".0")
    return f"{said} week{'' if said == '1' else 's'}"


def _listed(judged: Sequence[Judged], beat: Fraction) -> str:
    return "; ".join(f"{each.condition.words} ({_short(each, beat)})" for each in judged)


def _short(judged: Judged, beat: Fraction) -> str:
    """Write what was found and what would tell, what is asked left out."""
    parts = [figure_words(judged, beat), judged.why if _is_known(judged) else "", _needs(judged)]
    return "; ".join(part for part in parts if part)


def _needs(judged: Judged) -> str:
    if judged.needs is None:
        return ""
    return f"about {judged.needs} {'take' if judged.needs == 1 else 'takes'} more would tell"


def judged_words(judged: Judged, beat: Fraction) -> str:
    """Write what was found: the figure, its interval, its count, and what it is held against."""
    parts = [figure_words(judged, beat)]
    if _is_known(judged):
        parts += [bound_words(judged.condition, judged.bound, beat), judged.why]
    return "; ".join(part for part in (*parts, _needs(judged)) if part)


def figure_words(judged: Judged, beat: Fraction) -> str:
    """Write the figure with its interval and count, or what is lacking.

    >>> from evenhand.progress.stages.path import condition
    >>> figure_words(Judged(condition("balance_db"), "not met", -3.4, (-3.9, -2.9), 5, 1.0), Fraction(1, 8))
    'left 3.4 dB louder, 2.9 to 3.9, 5 takes'
    """
    measure, value = judged.condition.measure, judged.value
    if measure == "ceiling_bpm":
        return _ceiling_words(judged, beat)
    if value is None:
        return judged.why or "too few to judge"
    if measure == "days":
        return f"{value:.0f} {'day' if value == 1 else 'days'}"
    if measure == "free_drops":
        return f"{value:.0f} of {judged.n}{_whose(judged)}"
    sign = -1.0 if measure in _GREATER and value < 0 else 1.0
    unit, decimals = judged.condition.unit, _DECIMALS.get(judged.condition.unit, 1)
    if measure in _GREATER:
        said = f"{'left' if sign < 0 else 'right'} {abs(value):.{decimals}f} {unit} {_GREATER[measure]}"
    else:
        said = f"{_written(value, decimals)} {unit}{_whose(judged)}"
    if judged.ci95 is None:
        return said
    low, high = sorted(sign * edge for edge in judged.ci95)
    return f"{said}, {_written(low, decimals)} to {_written(high, decimals)}, {counted(judged)}"


def counted(judged: Judged) -> str:
    """Write how much a figure rests on."""
    one, many = _COUNTED.get(judged.condition.measure, ("take", "takes"))
    return f"{judged.n} {one if judged.n == 1 else many}"


def bound_words(condition: Condition, bound: float | None, beat: Fraction) -> str:
    """Write what a figure is held against.

    >>> from evenhand.progress.stages.path import condition
    >>> bound_words(condition("ceiling_bpm"), 80, Fraction(1, 8))
    'at least 1/8 = 80 asked'
    """
    if bound is None:
        return "within what an ear can tell"
    figure = _written(bound, 0 if float(bound).is_integer() else 1)
    if condition.measure == "ceiling_bpm":
        return f"{condition.relation} {_beat(beat)} = {figure} asked"
    if condition.bound is None:
        return f"{condition.relation} {figure} {condition.unit}, what an ear can tell"
    unit = condition.unit.removesuffix("s") if bound == 1 and condition.unit != "ms" else condition.unit
    return f"{condition.relation} {figure} {unit} asked"


def _is_known(judged: Judged) -> bool:
    return judged.value is not None or judged.at_least is not None or judged.at_most is not None


def _ceiling_words(judged: Judged, beat: Fraction) -> str:
    """Write a ceiling, or what is known of one that is bounded on one side only."""
    at = f"{_beat(beat)} ="
    if judged.value is not None and judged.ci95 is not None:
        low, high = judged.ci95
        return f"{at} {judged.value:.0f}, {low:.0f} to {high:.0f}, {counted(judged)}"
    least, most = judged.at_least, judged.at_most
    if least is not None and (most is None or judged.verdict == "met"):
        return f"{at} {least:.0f} or more, {counted(judged)}"
    if most is not None and (least is None or judged.verdict == "not met"):
        return f"{at} {most:.0f} or less, {counted(judged)}"
    if least is not None and most is not None:
        return f"{at} {least:.0f} to {most:.0f}, {counted(judged)}"
    return judged.why


def _beat(beat: Fraction) -> str:
    return f"{beat.numerator}/{beat.denominator}"


def _whose(judged: Judged) -> str:
    return f" ({HAND_NAMES[judged.hand]} hand)" if judged.hand is not None else ""


def _written(value: float, decimals: int) -> str:
    """Write a number with a true minus sign and no minus zero."""
    written = f"{value:.{decimals}f}"
    return written.replace("-", "−") if float(written) else written.lstrip("-")


DAYS_A_WEEK = 7
NOTHING_HEARD = "There is no take of this stage yet."
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
    everything = Shown(history.takes, history.bounces)
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
        why=why_words(stage, path, proposal, judged, slipped, weeks) if shown.days else NOTHING_HEARD,
        weeks_in_stage=weeks,
        slipped=slipped,
        takes=len(shown.takes) + len(shown.bounces),
        days=len(shown.days),
        notes=tuple(_notes(history, path, stage, shown, weeks)),
    )


def _shown(everything: Shown, stage: Stage, *, unsaid: bool = False) -> Shown:
    """Gather what was shown of a stage; ``unsaid``: takes count, too, whose stroke is not said."""
    if stage.stroke is None:
        return Shown((), everything.bounces)
    strokes = (stage.stroke, None) if unsaid else (stage.stroke,)
    return Shown(tuple(take for take in everything.takes if take.stroke in strokes))


def _weeks(shown: Shown, path: PracticePath, stage: Stage, since: int | None, until: int) -> float | None:
    """Return the weeks in the stage; None where several stages share its stroke and it is not said."""
    sharing = [each for each in path.stages if each.stroke == stage.stroke]
    first = since
    if first is None and len(sharing) == 1:
        first = min(shown.days, default=None)
    return (until - first + 1) / DAYS_A_WEEK if first is not None and until >= first else None


def _slipped(
    lately: Shown, path: PracticePath, stage: Stage, shown: Shown, weeks: float | None
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


def _not_met(asked: Sequence[Condition], stage: Stage, shown: Shown) -> list[Judged]:
    judged = [judge(condition, stage, shown) for condition in asked]
    return [each for each in judged if each.verdict == "not met"]


def _proposal(
    stage: Stage,
    path: PracticePath,
    shown: Shown,
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
    history: History, path: PracticePath, stage: Stage, shown: Shown, weeks: float | None
) -> list[str]:
    """Say what the proposal cannot rest on."""
    notes = []
    unsaid = sum(take.stroke is None for take in history.takes)
    if stage.stroke is not None and not shown.takes and unsaid:
        notes.append(
            f"{unsaid} {'take does' if unsaid == 1 else 'takes do'} not say the stroke: "
            "the table's column stroke says it; or --since says when this stage began."
        )
    sharing = [each.name for each in path.stages if each.stroke == stage.stroke and each is not stage]
    if weeks is None and sharing and shown.takes:
        notes.append(
            f"The {'stage' if len(sharing) == 1 else 'stages'} {' and '.join(sharing)} "
            f"{'uses' if len(sharing) == 1 else 'use'} the same stroke, so those takes count here, too, and "
            "how long this stage has lasted is not known. --since says when it began."
        )
    unclear = sum(not take.clear for take in shown.takes)
    if unclear:
        notes.append(f"{unclear} of the takes do not tell which hand is which and count for days only.")
    return notes
