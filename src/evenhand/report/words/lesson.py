"""What a week's plan says: to the student what each piece is for, to the teacher why it is there.

Conventions: a purpose is one sentence that a twelve-year-old understands. Facts are those of the remarks in
``planning``; hands come named, "" where it is not one hand's.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from evenhand.measuring.values import FindingKind
from evenhand.music.exercise import HAND_NAMES
from evenhand.report.words.figures import capitalised, count, plain
from evenhand.take import Fact, Remark, RemarkKind

Facts = Mapping[str, Fact]
_NAMES: Mapping[str, str] = {"R": HAND_NAMES["R"], "L": HAND_NAMES["L"]}

AIMS: Mapping[FindingKind, str] = {  # what a fault's practice is for, after "so that"
    "weak_hand": "the {hand} hand sounds as loud as the other",
    "late_hand": "the {hand} hand comes in time",
    "early_hand": "the {hand} hand waits for the beat",
    "wandering_hand": "the {hand} hand keeps steady time",
    "weak_second": "the second of two notes sounds like the first",
    "uneven_double": "the second of two notes comes in its place",
    "missed_note": "no note is missed",
    "accents_flat": "accents stand out",
    "taps_high": "the notes between the accents stay low",
    "flam_flat": "the little note comes just before the big one",
    "flam_wide": "the little note comes close to the big one",
    "hurrying": "the time stays steady",
    "dragging": "the time stays steady",
    "tiring": "you stay loose to the end",
    "uneven_above_tempo": "it stays even at this tempo",
}
FAULTS: Mapping[FindingKind, str] = {  # what is wrong, to the teacher
    "weak_hand": "the {hand} hand is softer",
    "late_hand": "the {hand} hand is late",
    "early_hand": "the {hand} hand is early",
    "wandering_hand": "the {hand} hand wanders in time",
    "weak_second": "the second note of the {hand} hand's doubles is weak",
    "uneven_double": "the second note of the {hand} hand's doubles is not in its place",
    "missed_note": "notes of the {hand} hand go missing",
    "accents_flat": "the {hand} hand's accents are flat",
    "taps_high": "the {hand} hand's taps are too high beside its accents",
    "flam_flat": "flams to the {hand} hand are flat",
    "flam_wide": "flams to the {hand} hand are wide",
    "hurrying": "it hurries",
    "dragging": "it drags",
    "tiring": "it tires",
    "uneven_above_tempo": "it gets uneven above a tempo",
}
SECONDS = ("weak_second", "uneven_double")  # faults of a double's second note
STEP_WORDS: Mapping[str, str] = {
    "slower": "slowly",
    "alone": "the {hand} hand alone",
    "leading": "the {hand} hand leading",
    "around": "the notes around the place in a loop",
    "leaning": "leaning on the {hand} hand",
    "short": "in short goes",
}
MEASURE_WORDS: Mapping[str, str] = {
    "balance.level_db": "level, right minus left",
    "balance.timing_ms": "timing, right minus left",
    "hands.{hand}.timing_sd_ms": "the hand's spread in time",
    "doubles.{hand}.second_minus_first_db": "second of two minus first",
    "doubles.{hand}.short_share": "the first interval's share of a double",
    "positions.missed": "notes missed",
    "accents.{hand}.over_taps_db": "accents over unaccented",
    "graces.{hand}.gap_ms": "how far ahead the graces come",
    "graces.{hand}.level_db": "how soft the graces are",
    "drift_bpm_per_min": "the change of tempo over the take",
    "fatigue.level_trend_db_per_min": "the change of level over the take",
}


def fault_words(facts: Facts) -> str:
    """Say what is wrong.

    >>> fault_words({"told": "late_hand", "hand": "left"})
    'the left hand is late'
    """
    words = next(words for kind, words in FAULTS.items() if kind == facts["told"])
    return _of_hand(words, facts)


def _of_hand(words: str, facts: Facts) -> str:
    """Put the hand in; where it is no one hand's, leave it out."""
    if facts.get("hand"):
        return words.format(hand=facts["hand"])
    both = words.replace("the {hand} hand is", "both hands are").replace("the {hand} hand's ", "")
    return both.replace(" of the {hand} hand", "").replace(" to the {hand} hand", "").format(hand="other")


def _aim(facts: Facts) -> str:
    """Say what it is for; "" where no fault asks for it."""
    words = next((words for kind, words in AIMS.items() if kind == facts.get("told")), "")
    return f", so that {_of_hand(words, facts)}" if words else ""


def _purpose(words: str) -> Callable[[Facts], str]:
    """Say a step and what it is for; a hand is named once."""
    named = "{hand} hand" in words

    def said(facts: Facts) -> str:
        aim = _aim(facts).replace(f"the {facts['hand']} hand", "it") if named else _aim(facts)
        return f"{_of_hand(words, facts)}{aim}."

    return said


def _heard(facts: Facts) -> str:
    takes = f"in {facts['takes']} of {facts['of_takes']} takes" if facts["of_takes"] != 1 else "in the take"
    figure = f" ({plain(float(facts['value']))} {facts['unit']} in the newest)" if _has_figure(facts) else ""
    return f"{fault_words(facts)} {takes}{figure}"


def _has_figure(facts: Facts) -> bool:
    return facts.get("unit") in ("ms", "dB") and "value" in facts


def _behind(facts: Facts) -> str:
    size = plain(abs(float(facts["value"])), 0)
    return (
        f"the {facts['hand']} hand came {size} {facts['unit']} late on average in each of "
        f"{count(int(facts['takes']), 'take')}: "
        "less than an ear can tell at this tempo, and heard when it gets faster"
    )


def _another(facts: Facts) -> str:
    steps = [_step_words(str(step).split("-")[0], facts) for step in str(facts["steps"]).split()]
    named = " and ".join(steps)
    return (
        f"{capitalised(fault_words(facts))}, and {facts['weeks']} weeks of practice have not changed it: "
        f"now another way, {named}."
    )


def _story_steps(facts: Facts) -> str:
    """Tell on which day each step comes, and the tempo in the end."""
    rows = [row.split("@") for row in str(facts["steps"]).split("|") if row]
    parts = [f"{_step_words(step.split()[0], facts)} {_on(day)}" for step, day in rows]
    end = f"the whole exercise{_up_to(facts)}" if facts["bpm"] else "both hands in the end"
    if len(rows) == 1 and rows[0][1] == facts["last"]:
        parts = [_step_words(rows[0][0].split()[0], facts)]
    if not parts:
        return f"{capitalised(end)}; the take to record is the same each day."
    return f"{capitalised(', '.join(parts))}, and {end}; the take to record is the same each day."


def _step_words(step: str, facts: Facts) -> str:
    """Name a step; where the second of two is to be leaned on, that."""
    if step == "leaning" and facts.get("told") in SECONDS:
        return "leaning on the second of two"
    return _of_hand(STEP_WORDS[step], facts)


def _on(day: str) -> str:
    return f"on {day}"


def _up_to(facts: Facts) -> str:
    on = f" {_on(str(facts['last']))}" if facts["days"] != 1 else ""
    return f" with the click at {facts['bpm']}{on}"


LESSON_REMARKS: Mapping[RemarkKind, str | Callable[[Facts], str]] = {
    "purpose warm-up": "Warm up: easy and loose, the stick does the work.",
    "purpose drops": "Drop the stick, hold it loosely, and let it bounce until it lies still.",
    "purpose new": "Something new: slow enough that every stroke feels easy.",
    "purpose build": "Even first, then a little faster.",
    "purpose again": lambda facts: f"The whole exercise again{_aim(facts)}.",
    "purpose slower": _purpose("Slower"),
    "purpose alone": _purpose("The {hand} hand alone"),
    "purpose leading": _purpose("The {hand} hand leads"),
    "purpose around": _purpose("Only the few notes around the hard place, round and round"),
    "purpose leaning": lambda facts: (
        f"Lean on the second of two notes a little{_aim(facts)}."
        if facts["told"] in SECONDS
        else _purpose("Lean on the {hand} hand's notes a little")(facts)
    ),
    "purpose short goes": _purpose("Short goes, and stop before it changes"),
    "purpose review": "You know this one: keep it.",
    "purpose speed": "Fast, in short goes: stop as soon as a hand gets tight.",
    "purpose endurance": "Longer in one go: stay loose and even, and stop when a hand gets tight.",
    "purpose music": "Make it sound like music: hear the loud and the soft notes.",
    "purpose record": "Record this one, the same every week: hear what changes.",
    "purpose record drops": "Record your drops, the same every week: hear what changes.",
    "heard in takes": _heard,
    "behind in every take": _behind,
    "another treatment": _another,
    "another way before": "{weeks} weeks of another way have not changed it",
    "success is heard in": lambda facts: (
        f"whether it helps is heard in the take to record: {MEASURE_WORDS[str(facts['measure'])]}"
    ),
    "stays for a fault": lambda facts: f"no faster yet, for {_heard(facts)}",
    "slower for a fault": lambda facts: f"slower than last time, for {_heard(facts)}",
    "control not sure": "no faster until more repetitions are in control at this tempo",
    "at the ceiling": "no faster, for the fastest tempo in control is {ceiling}",
    "even so far": "even at every tempo so far, so a little faster",
    "slower than the stage": "slower than the stage is meant for, until it is in control",
    "no slower on the click": "no slower, for a click goes no slower than 40 on the beat",
    "next in the library": "next on the track {track}",
    "from the book": "from your own book",
    "to be used": "you marked it to be used",
    "easy to begin with": "easy to begin with",
    "learnt before": lambda facts: (
        f"even in its newest takes ({facts['n']} heard), kept by coming back to it"
        if facts["n"]
        else "worked on before, kept by coming back to it"
    ),
    "same form each week": "the same form each week, so that weeks can be compared",
    "story drops": "This week the sticks learn to bounce by themselves.",
    "story fault": lambda facts: f"This week’s aim: {_aim(facts).removeprefix(', so that ')}.",
    "story new": lambda facts: (
        f"{'Your teacher chose' if facts['leads'] else 'This week’s next step is'} "
        f"{f'“{title}”' if (title := facts['title']) else 'an exercise'}"
        f"{' for this week' if facts['leads'] else ''}."
    ),
    "story steps": _story_steps,
    "fault waits": lambda facts: (
        f"This week has no room for everything: {fault_words(facts)}, which has to wait."
    ),
    "in sittings": (
        "{minutes} minutes a day are for two sittings or more: rest in between, and stop before it hurts."
    ),
}


def part_words(kind: str, hand: str, *, seconds: bool = False) -> str:
    """Name a part of an exercise behind its title; "" for the whole.

    >>> part_words("purpose alone", "left"), part_words("purpose again", "left")
    ('left alone', '')
    """
    return {
        "purpose slower": "slowly",
        "purpose short goes": "short goes",
        "purpose alone": f"{hand} alone",
        "purpose leading": f"{hand or 'other hand'} leads",
        "purpose around": "the hard place",
        "purpose leaning": "lean on the second"
        if seconds
        else f"lean on the {hand}"
        if hand
        else "with accents",
    }.get(kind, "")


def part_title(title: str, purpose: Sequence[Remark]) -> str:
    """Name a part of an exercise as a part: one hand alone, the other lead.

    >>> part_title("Single paradiddle", [Remark("purpose alone", {"hand": "L", "told": ""})])
    'Single paradiddle, left alone'
    """
    first = purpose[0] if purpose else None
    hand = "" if first is None else _NAMES.get(str(first.facts.get("hand", "")), "")
    seconds = first is not None and first.facts.get("told") in SECONDS
    part = "" if first is None else part_words(first.kind, hand, seconds=seconds)
    return ", ".join(word for word in (title, part) if word) if title else capitalised(part)
