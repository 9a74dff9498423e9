"""What was judged of a stage and what is proposed, in words.

Conventions: a figure goes with its unit, its 95 % range and its count; differences are right minus left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from evenhand.music.exercise import HAND_NAMES
from evenhand.progress.stages.path import PATH_MEASURES, SINGLES, Condition, Holds, PracticePath, Stage
from evenhand.progress.stages.verdicts import Advice, Judged, Proposal, Verdict
from evenhand.report.words.figures import count, interval_words, plain
from evenhand.report.words.remarks import remark_words

VERDICTS: Mapping[Verdict, str] = {
    "met": "met",
    "not met": "not met",
    "can't tell": "can't tell yet",
    "not seen": "not seen",
}
HOLDS: Mapping[Holds, str] = {
    "always": "",
    "when seen": " (if seen)",
    "never": " (preferred, if filmed)",
}
TEACHER_DECIDES = "This is a proposal. The teacher decides."
_DECIMALS: Mapping[str, int] = {
    "ms": 1,
    "dB": 1,
    "strokes/s": 1,
    "s": 0,
    "bounces": 1,
    "drops": 0,
    "days": 0,
    "%": 0,
}
PER_HAND = "strokes a second of each hand"
_GREATER: Mapping[str, str] = {
    "hands_apart_ms": "later",
    "balance_db": "louder",
    "heights_apart_percent": "higher",
}  # right minus left
_COUNTED: Mapping[str, str] = {"ceiling_per_s": "repetition", "bounces": "drop"}


def basis_words(advice: Advice) -> str:
    """Say what the advice rests on; "" where nothing was heard."""
    if not advice.takes:
        return ""
    return f"Based on {count(advice.takes, 'take')} on {count(advice.days, 'day')}."


def headline(advice: Advice) -> str:
    """Say the proposal in a few words."""
    return {
        "go on": f"go on to {advice.to}",
        "stay": f"stay with {advice.stage}",
        "go back": f"go back to {advice.to} for a while",
        "can't tell": "can't tell yet",
    }[advice.proposal]


def reason_words(advice: Advice, path: PracticePath) -> str:
    """Say why that is proposed."""
    stage, weeks, judged = path.stage(advice.stage) or path.stages[0], advice.weeks_in_stage, advice.judged
    if not advice.days:
        return "There is no take of this stage yet."
    if not judged:
        return "The stage has no conditions: nothing can be judged."
    judged = tuple(each for each in judged if each.counts)
    if not judged:
        return "What the stage asks must be seen, and no video shows it."
    before = path.before(stage)
    if advice.proposal == "go back" and before is not None:
        over = " and the stage has lasted longer than usual" if _is_over(stage, weeks) else ""
        asked = _listed(advice.slipped)
        return f"What the stage {before.name} asked is clearly not met any more{over}: {asked}."
    not_met = [each for each in judged if each.verdict == "not met"]
    unsure = [each for each in judged if each.verdict == "can't tell"]
    unseen = [each for each in judged if each.verdict == "not seen"]
    n = len(judged)
    if not not_met and not unsure and not unseen:
        return _all_met(stage, path, advice.proposal, n, weeks)
    parts = [f"{n - len(not_met) - len(unsure) - len(unseen)} of {n} conditions are met."]
    if not_met:
        parts.append(f"Not met: {_listed(not_met)}.")
    if unsure:
        parts.append(f"Can't tell yet: {_listed(unsure)}.")
    if unseen:
        parts.append(f"Not seen, and a video is asked for: {_listed(unseen)}.")
    if _is_over(stage, weeks):
        parts.append(f"The stage {_usual(stage, weeks)}.")
    return " ".join(parts)


def _all_met(stage: Stage, path: PracticePath, proposal: Proposal, n: int, weeks: float | None) -> str:
    all_of_them = {1: "The one condition is met", 2: "Both conditions are met"}.get(
        n, f"All {n} conditions are met"
    )
    if proposal == "go on":
        return f"{all_of_them}{'' if weeks is None else f', after {count_weeks(weeks)}'}."
    if path.after(stage) is None:
        return f"{all_of_them}, and this is the path's last stage."
    return f"{all_of_them}, but the stage {_usual(stage, weeks)}."


def _usual(stage: Stage, weeks: float | None) -> str:
    return f"usually takes {weeks_words(stage.weeks)}, and it has been {plain(weeks or 0.0)}"


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
    said = plain(weeks).removesuffix(".0")
    return f"{said} week{'' if said == '1' else 's'}"


def _listed(judged: Sequence[Judged]) -> str:
    return "; ".join(f"{each.condition.words} ({heard_words(each)})" for each in judged)


def heard_words(judged: Judged) -> str:
    """Write what was found, and what would tell more, without what it is held against."""
    parts = [figure_words(judged), _lacking(judged) if _is_known(judged) else "", needs_words(judged)]
    return "; ".join(part for part in parts if part)


def _lacking(judged: Judged) -> str:
    return "" if judged.remark is None else remark_words(judged.remark)


def needs_words(judged: Judged) -> str:
    """Say how many takes more would likely tell; "" where that is not known."""
    return "" if judged.needs is None else f"about {count(judged.needs, 'take')} more would tell"


def judged_words(judged: Judged) -> str:
    """Write what was found: the figure, its interval, its count, and what it is held against."""
    parts = [figure_words(judged)]
    if _is_known(judged):
        asked = " asked" if judged.bound is not None and judged.condition.bound is not None else ""
        parts += [_held_against(judged.condition, judged.bound) + asked, _lacking(judged)]
    return "; ".join(part for part in (*parts, needs_words(judged)) if part)


def figure_words(judged: Judged) -> str:
    """Write the figure with its interval and count, or what is lacking.

    >>> from evenhand.progress.stages.path import condition
    >>> figure_words(Judged(condition("balance_db"), "not met", -3.4, (-3.9, -2.9), 5, 1.0))
    'left 3.4 dB louder, 2.9 to 3.9, 5 takes'
    """
    measure, value = judged.condition.measure, judged.value
    if measure == "ceiling_per_s":
        return _ceiling_words(judged)
    if value is None:
        return _lacking(judged) or "too few to judge"
    if measure == "days":
        return count(round(value), "day")
    if measure == "free_drops":
        return f"{plain(value, 0)} of {judged.n}{_whose(judged)}"
    sign = -1.0 if measure in _GREATER and value < 0 else 1.0
    unit, decimals = judged.condition.unit, _DECIMALS.get(judged.condition.unit, 1)
    if measure in _GREATER:
        said = f"{'left' if sign < 0 else 'right'} {abs(value):.{decimals}f} {unit} {_GREATER[measure]}"
    else:
        said = f"{plain(value, decimals)} {unit}{_whose(judged)}"
    if judged.ci95 is None:
        return said
    low, high = sorted(sign * edge for edge in judged.ci95)
    return f"{said}, {plain(low, decimals)} to {plain(high, decimals)}, {_rests_on(judged)}"


def _rests_on(judged: Judged) -> str:
    """Write how much a figure rests on."""
    return count(judged.n, _COUNTED.get(judged.condition.measure, "take"))


def bound_words(condition: Condition, bound: float | None) -> str:
    """Write what a figure is held against.

    >>> from evenhand.progress.stages.path import condition
    >>> bound_words(condition("ceiling_per_s"), 1.4)
    'at least 1.4 strokes a second of each hand'
    """
    must_be = PATH_MEASURES[condition.measure].seen and condition.holds == "always"
    return _held_against(condition, bound) + (" (must be seen)" if must_be else HOLDS[condition.holds])


def _held_against(condition: Condition, bound: float | None) -> str:
    said = _bound_words(condition, bound)
    close = condition.within_ms
    return said if close is None else f"{said}, in doubles at most {close:g} ms apart"


def _bound_words(condition: Condition, bound: float | None) -> str:
    if bound is None:
        return "within what an ear can tell"
    figure = plain(bound, 0 if float(bound).is_integer() else 1)
    if condition.measure == "ceiling_per_s":
        return f"{condition.relation} {bound:g} {PER_HAND}"
    if condition.bound is None:
        return f"{condition.relation} {figure} {condition.unit}, what an ear can tell"
    unit = condition.unit.removesuffix("s") if bound == 1 and condition.unit != "ms" else condition.unit
    return f"{condition.relation} {figure} {unit}"


def _is_known(judged: Judged) -> bool:
    return judged.value is not None or judged.at_least is not None or judged.at_most is not None


def _ceiling_words(judged: Judged) -> str:
    """Write a ceiling, or what is known of one that is bounded on one side only."""
    if judged.value is not None and judged.ci95 is not None:
        return f"{judged.value:.1f} {PER_HAND}, {interval_words(judged.ci95, 1)}, {_rests_on(judged)}"
    least, most = judged.at_least, judged.at_most
    if least is not None and (most is None or judged.verdict == "met"):
        return f"{least:.1f} {PER_HAND} or more, {_rests_on(judged)}"
    if most is not None and (least is None or judged.verdict == "not met"):
        return f"{most:.1f} {PER_HAND} or less, {_rests_on(judged)}"
    if least is not None and most is not None:
        return f"{least:.1f} to {most:.1f} {PER_HAND}, {_rests_on(judged)}"
    return _lacking(judged)


def rate_words(stage: Stage) -> str:
    """Say how fast a stage goes, and the tempo that this is in plain single strokes.

    >>> from evenhand.progress.stages.usual import COMMON_PATH
    >>> rate_words(COMMON_PATH.stages[1])
    '0.5 to 1.9 strokes a second of each hand (single strokes at 1/8 = 60 to 228)'
    """
    slow, fast = stage.rate_per_s
    if stage.stroke is None:
        return f"a drop of each hand every {1 / fast:.0f} to {1 / slow:.0f} s"
    singles = f"1/8 = {SINGLES * slow:.0f} to {SINGLES * fast:.0f}"
    return f"{slow:g} to {fast:g} {PER_HAND} (single strokes at {singles})"


def _whose(judged: Judged) -> str:
    return f" ({HAND_NAMES[judged.hand]} hand)" if judged.hand is not None else ""
