"""Remarks in words."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import HAND_NAMES
from evenhand.progress.stages.path import SINGLES
from evenhand.report.words.figures import capitalised, count, count_words
from evenhand.report.words.lesson import LESSON_REMARKS
from evenhand.take import ExtraReason, Fact, Remark, RemarkKind

Facts = Mapping[str, Fact]
EXTRA_REASONS: Mapping[ExtraReason, str] = {
    "before the start": "before the first note",
    "count-in": "taken for a count-in",
    "between": "between the notes",
    "after": "after the last note",
    "too soft": "too soft to be sure of",
}


HANDS_NAMED: Mapping[str, str] = {"R": HAND_NAMES["R"], "L": HAND_NAMES["L"], "": ""}


def _count(facts: Facts, one: str, many: str | None = None) -> str:
    return count(int(facts["n"]), one, many)


def _without_note(facts: Facts) -> str:
    parts = [f"{facts[reason]} {words}" for reason, words in EXTRA_REASONS.items() if facts.get(reason)]
    return f"{facts['n']} hits were given no note: {', '.join(parts)}."


_CONTROL = "{controlled} of {n} repetitions in control"
_AGAIN = ": the set-up seems changed: calibrate again."
STROKE_PLURALS: Mapping[str, str] = {
    "tap": "taps",
    "half": "half strokes",
    "full": "full strokes",
    "": "rebound",
}
NEEDS: Mapping[str, str] = {  # what an exercise can load
    "hand": "the {hand} hand",
    "second_notes": "the {hand} hand's doubles",
    "hand_change": "the hand change {change}",
    "heights": "the {hand} hand's accents",
    "graces": "flams or drags to the {hand} hand",
}
HAND_WORK: Mapping[str, str] = {  # how an exercise works on a hand
    "alone": "the {hand} hand alone for a while, {n} in a row, so that it can be heard by itself",
    "leads": "the {hand} hand leads",
    "in turn": "each hand does the same in turn, {n} in a row, so that they can be compared",
    "more": "the {hand} hand has more to do than the other",
}
WEAKNESSES: Mapping[str, str] = {  # how a finding is told as a fault of a hand, or of its notes
    "weak_hand": "softer",
    "late_hand": "late",
    "early_hand": "early",
    "wandering_hand": "wandering",
    "weak_second": "weak",
    "uneven_double": "not in its place",
    "missed_note": "missed",
    "accents_flat": "flat",
    "taps_high": "too little above the other notes",
    "flam_flat": "flat",
    "flam_wide": "wide",
}


def weakness_words(kinds: Iterable[str]) -> list[str]:
    """Say what was weak, each once."""
    return list(dict.fromkeys(WEAKNESSES[kind] for kind in kinds))


def _told(facts: Facts) -> str:
    """Say what was weak, and in how many of the takes."""
    takes = f"in {facts['takes']} of {facts['of_takes']} takes"
    said = " and ".join(weakness_words(str(facts["told"]).split()))
    return f"{said} {'in the take' if facts['of_takes'] == 1 else takes}"


def _seconds(facts: Facts) -> str:
    """Say how an exercise works on the second notes of a hand's doubles."""
    if facts["accented"]:
        return f"accents the second note of the {facts['hand']} hand's doubles"
    return f"doubles with the {facts['hand']} hand, to hear their second notes"


def _likely(facts: Facts, weight: str) -> str:
    """Say how likely a reading is, where that was stored."""
    return f" ({100 * float(facts[weight]):.0f} % likely)" if weight in facts else ""


def _times(facts: Facts) -> str:
    return "once" if facts["n"] == 1 else f"{facts['n']} times"


REMARKS: Mapping[RemarkKind, str | Callable[[Facts], str]] = {
    **LESSON_REMARKS,
    "written": "{text}",
    "no note found": "No note of the exercise was found in the take.",
    "notes unmatched": (
        "This does not sound like the exercise: {missed} of {asked} notes unmatched, "
        "{between} hits that are not in it."
    ),
    "hits off the notes": (
        "This does not sound like the exercise: its hits stand {spread_ms:.0f} ms "
        "(spread, {n} hits) from where the notes would be."
    ),
    "two alignments": lambda facts: (
        f"The take fits two alignments: begun with note {facts['note']} at {facts['at_s']:.1f} s, "
        f"as taken here{_likely(facts, 'weight')}, "
        f"or with note {facts['other_note']} at {facts['other_at_s']:.1f} s"
        f"{_likely(facts, 'other_weight')}."
    ),
    "other sticking": (
        "Other hands were seen than are written, in {n} of {of} strokes: bar {played} was played."
    ),
    "hands from habit": (
        "The first hit was taken for the exercise's first note: nothing in the sound tells the hands apart."
    ),
    "notes hidden": lambda facts: (
        "1 note lies under the ring of louder ones and cannot be heard."
        if facts["n"] == 1
        else f"{facts['n']} notes lie under the ring of louder ones and cannot be heard."
    ),
    "no click found": "No click was found, though one was said to be heard: timing is judged without it.",
    "another note value": "The tempo given was {asked}; the take fits {fits}, and is heard so.",
    "another tempo": (
        "Played {by_percent:.0f} % {way} than the {asked} asked for: "
        "is it the right exercise, or another note value?"
    ),
    "hits without a note": _without_note,
    "maybe a count-in": "The first {n} hits may be a count-in; they are taken for notes.",
    "maybe notes": "The first {n} hits are taken for a count-in, and may be notes.",
    "corrected": lambda facts: f"Corrected by hand: {_count(facts, 'hit')}.",
    "pictures not watched": "It came as a video, and was only heard; its pictures were not watched: {why}",
    "no video shows this": "no video shows this",
    "too few hits": lambda facts: f"Too few hits to judge: {_count(facts, 'was', 'were')} heard.",
    "nothing stands out": "Nothing stands out, and it is too early to call it even: play more repetitions.",
    "repetitions so far": "{n} whole repetitions so far, {needed} are needed",
    "rate would tell": lambda facts: (
        f"a take at {facts['per_s']:.1f} strokes a second of each hand would tell most "
        f"(single strokes at 1/8 = {SINGLES * float(facts['per_s']):.0f})"
    ),
    "no take so long": "no take lasts {seconds:g} s yet",
    "takes slower than the stage": lambda facts: (
        f"{_count(facts, 'take was', 'takes were')} slower than this stage goes, and "
        f"{'does' if facts['n'] == 1 else 'do'} not count."
    ),
    "run too long": "{n} notes in a row by one hand, where this stage has up to {most}",
    "too many notes": "{n} notes before it repeats, where this stage has up to {most}",
    "accents come later": "has accents, which come in a later stage",
    "ornament comes later": "has a {ornament}, which comes in a later stage",
    "too hard for the stage": "asks more of the hands than this stage does",
    "hand too fast": "{per_s:.1f} strokes a second of a hand, where this stage goes up to {most:.1f}",
    "hand too slow": "{per_s:.1f} strokes a second of a hand, where this stage begins at {least:.1f}",
    "no take shows this": "no take shows this yet",
    "hand not heard": "nothing was heard of the {hand} hand",
    "no drops heard": "no drops were heard",
    "no free drop": "no drop was left free",
    "hands of drops not known": "which hand is not known: all drops count together",
    "few drops heard": "only {n} drops{of_hand} were heard",
    "drops unsure": "of {n} drops{of_hand} it is unsure whether they were left free",
    "drops damped": "{n} drops{of_hand} were damped",
    "drops heard": lambda facts: (
        f"{_count(facts, 'drop')}, {facts['free']} left to bounce out by "
        f"{'itself' if facts['n'] == 1 else 'themselves'}."
    ),
    "strokes not said": lambda facts: f"{_count(facts, 'take does', 'takes do')} not say the stroke.",
    "stages of one stroke": lambda facts: (
        f"The {'stage' if facts['n'] == 1 else 'stages'} {facts['stages']} "
        f"{'uses' if facts['n'] == 1 else 'use'} the same stroke, so those takes count here, too, and "
        "how long this stage has lasted is not known."
    ),
    "hands not told": "{n} of the takes do not tell which hand is which and count for days only.",
    "few hits of a drop": lambda facts: (
        f"Only {count_words(int(facts['n']), 'hit was', 'hits were')} heard: too few to tell."
    ),
    "strokes, not a drop": (
        "The time between its hits hardly gets shorter: these were strokes, not a stick left alone."
    ),
    "damped by a finger": "After hit {hit} it came down sooner than by itself: a finger damped it.",
    "held": "After hit {hit} no more came, though the next would have been heard: it was held.",
    "shrinks unevenly": "The time between its hits shrinks too unevenly to tell.",
    "bounced on by itself": "It bounced on by itself until its hits could no longer be told apart.",
    "no whole repetition": "no whole repetition was heard",
    "too few to judge": f"{_CONTROL}: too few to judge, {{needed}} are needed",
    "ceiling higher": f"{_CONTROL}: the ceiling lies higher than what was tried",
    "ceiling lower": f"{_CONTROL}: the ceiling lies lower than what was tried",
    "ceiling not shown": f"{_CONTROL}: the tempos tried do not show the ceiling yet",
    "ceiling known": f"{_CONTROL}: known well enough to practise by",
    "next tempo would tell": f"{_CONTROL}: one more take would tell most",
    "another format": f"The recording is {{now}}, the calibration was {{then}}{_AGAIN}",
    "another rate": f"The recording has {{now}} samples a second, the calibration had {{then}}{_AGAIN}",
    "other channels": f"The recording has {{now}} channels, the calibration had {{then}}{_AGAIN}",
    "another background": f"The background is {{by_db:.0f}} dB {{way}} than it was{_AGAIN}",
    "another sound": f"The hits sound unlike those calibrated, by {{by_db:.0f}} dB over the bands{_AGAIN}",
    "louder than fulls": f"{{n}} of {{of}} hits are far louder than fulls were{_AGAIN}",
    "softer than taps": f"{{n}} of {{of}} hits are far softer than taps were{_AGAIN}",
    "loads a hand": lambda facts: f"{HAND_WORK[str(facts['how'])].format_map(facts)}; it was {_told(facts)}",
    "loads second notes": lambda facts: (
        f"{_seconds(facts)}, which {'was' if facts['accented'] else 'were'} {_told(facts)}"
    ),
    "loads a hand change": lambda facts: (
        f"goes through {facts['change']} {_times(facts)}, where a note was {_told(facts)}"
    ),
    "loads heights": lambda facts: (
        f"the {facts['hand']} hand goes from high to low and back; its accents were {_told(facts)}"
    ),
    "loads graces": lambda facts: (
        f"{_count(facts, 'flam or drag', 'flams or drags')} to the {facts['hand']} hand; "
        f"they were {_told(facts)}"
    ),
    "keeps up a stroke": lambda facts: f"keeps up the {STROKE_PLURALS[str(facts['stroke'])]}",
    "new exercise": "new, so start slowly",
    "as fast as the stage": "as fast as this stage goes",
    "week without takes": "No take has been heard yet.",
    "week from takes": lambda facts: f"Based on {_count(facts, 'take')}.",
    "week from even takes": lambda facts: (
        f"Based on {_count(facts, 'take')}. In the newest, nothing that an ear can tell stands out."
    ),
    "strokes by day": "Strokes a day: {days}. Load should rise gradually.",
    "strokes by week": "{now:,} strokes this week, {before:,} the week before.",
    "strokes jump": (
        "{now:,} strokes this week, {before:,} the week before: more than a quarter up. "
        "Load should rise gradually (a convention)."
    ),
    "beyond the record": (
        "More than the published record of {strokes} strokes in 60 s ({per_s:.1f} a second): "
        "check the recording, for bounces or two players."
    ),
    "shorter than asked": (
        "The playing lasts {seconds:.1f} s, not {asked_s:g}: strokes a minute come from its rate."
    ),
    "level hardly rises": (
        "Level rises by {slope:.1f} dB a decade of height, where {usual:g} is usual: "
        "the recorder may ride its gain."
    ),
    "heard without an exercise": "{name} was heard without an exercise: nothing is known of its hands.",
    "hands not told in a take": "{name}: which hand is which can't be told; it was left out.",
    "found in a take": "In {name}: {said}",
    "nothing in the book for": lambda facts: (
        f"The book has nothing for {NEEDS[str(facts['need'])].format_map(facts)} more than the rest."
    ),
    "new hand changes": lambda facts: (
        f"{_count(facts, 'hand change')} of four notes that those before don't have"
        if facts["n"]
        else "its hand changes of four notes are all in those before"
    ),
    "book works on none": "No exercise of the book works on what was weak; chosen by coverage.",
    "book works on few": "Only {n} exercises of the book work on what was weak.",
    "chosen by coverage": "Nothing audible stands out; chosen by coverage.",
    "scale of both hands": (
        "The hands are not told apart: say --exercise and --tempo for a scale of each hand."
    ),
}
THEN: Mapping[RemarkKind, str] = {  # what follows from it, or helps
    "drops heard": "Leave the stick alone until it lies still.",
    "strokes not said": "The table's column stroke says it; or --since says when this stage began.",
    "stages of one stroke": "--since says when it began.",
    "two alignments": (
        "Which hand is which cannot be told from the sound; a click in the recording would tell."
    ),
    "no click found": "Clicks that sound before the playing make it easier to find.",
    "maybe a count-in": "If they are one, hear the take again as beginning at {at_s:.2f} s.",
    "maybe notes": "If they are notes, hear the take again as beginning at {at_s:.2f} s.",
    "too few hits": ("{fewest} with each hand give first figures, 8 repetitions or more give answers."),
}


def remark_sentences(remark: Remark) -> tuple[str, ...]:
    """Say a remark, and what follows from it.

    >>> remark_sentences(Remark("maybe notes", {"n": 4, "at_s": 1.25}))[1]
    'If they are notes, hear the take again as beginning at 1.25 s.'
    """
    words, then, facts = REMARKS[remark.kind], THEN.get(remark.kind, ""), dict(remark.facts)
    if "hand" in facts:
        facts["hand"] = HANDS_NAMED[str(facts["hand"])]
        facts["of_hand"] = f" of the {facts['hand']} hand" if facts["hand"] else ""
    said = words(facts) if callable(words) else words.format_map(facts)
    then = str(facts.get("then", "")) if remark.kind == "written" else then.format_map(facts)
    return (said, then) if then else (said,)


def remark_words(remark: Remark) -> str:
    """Say a remark."""
    return " ".join(remark_sentences(remark))


def why_words(remarks: Sequence[Remark]) -> str:
    """Say in a sentence why something is practised; what is in words already is left as it is.

    >>> why_words([Remark("to be used"), Remark("new exercise")])
    'You marked it to be used; new, so start slowly.'
    """
    if all(each.kind == "written" for each in remarks):
        return " ".join(all_remarks(remarks))
    return f"{capitalised('; '.join(all_remarks(remarks)))}."


def all_remarks(remarks: Iterable[Remark]) -> list[str]:
    """Say several remarks."""
    return [remark_words(remark) for remark in remarks]


def doubts_of(take: HeardTake) -> list[str]:
    """Say what to be careful with in a take's figures, each once."""
    first = [take.heard.ambiguity] if take.heard.ambiguity is not None else []
    warnings = [each for each in take.heard.warnings if each.kind != "drops heard"]
    return list(dict.fromkeys([*all_remarks([*first, *warnings]), *take.input.warnings]))
