"""The words of the report: the sentence on top, and what each picture says to one who doesn't see it.

Conventions: notes count from 1 for people, rests too; ms, late or early in words.

Findings as one says them to a student: what to hear and what to do, without a figure.

Conventions: the student is spoken to; the figures behind a sentence are said in ``words.findings`` and are
shown where they are asked for. Nothing is said here that the finding does not say.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from evenhand.measuring.values import (
    AUDIBLE_LEVEL_DB,
    Finding,
    FindingKind,
    HeardTake,
    PositionMeasures,
    audible_ms,
)
from evenhand.music.exercise import HAND_NAMES, Exercise, other_hand
from evenhand.report.take.layout import MOST_ROWS, Scale
from evenhand.report.take.rows import ExtraMark, Row
from evenhand.report.words.figures import count, duration, listed, plain, side_of_audible, signed
from evenhand.report.words.findings import (
    NO_EVIDENCE,
    asked_words,
    finding_words,
    hand_of,
    is_of_one_note,
    of_both_hands,
    ornament_words,
    remedy_words,
    uneven_above_words,
    way_words,
    would_tell,
)
from evenhand.report.words.remarks import EXTRA_REASONS, all_remarks, remark_words
from evenhand.take import Remark, RemarkKind

NAMED = 3  # so many notes are named in a sentence; the table has all
NAMED_LOST = 8
BENEATH = (
    "Under the rows: each note's mean with its 95 % range (ms), and its level against the take's middle "
    "(dB); bold where it can be heard."
)


def top_sentence(take: HeardTake) -> str:
    """Return the one sentence on top: the first finding, or what else there is to say."""
    if take.heard.unlike is not None:
        return remark_words(take.heard.unlike)
    if take.exercise is None:
        return blind_sentence(take)
    if take.findings:
        return finding_words(take.findings[0], take.exercise)
    if not take.heard.hits:
        return "No hits were heard."
    return _without_findings(take)


def _without_findings(take: HeardTake) -> str:
    """Say "even" only where both balances are known to lie under what an ear can tell."""
    if take.measures is None:
        return "Too few hits to judge."
    level = side_of_audible(take.measures.balance_level_db, AUDIBLE_LEVEL_DB)
    timing = side_of_audible(take.measures.balance_timing_ms, audible_ms(take.measures.interval_ms))
    if level == timing == "can't be heard":
        return "Even to the ear."
    return f"{count(len(take.heard.hits), 'hit')} heard."


def blind_sentence(take: HeardTake) -> str:
    """Say what a take without an exercise holds: strokes, or drops."""
    drops = next((each for each in take.heard.warnings if each.kind == "drops heard"), None)
    if drops is not None:
        return remark_words(drops)
    hits = take.heard.hits
    if not hits:
        return "No hits were heard."
    if len(hits) == 1:
        return "One hit was heard."
    return f"{len(hits)} hits in {duration(hits[-1].time_s - hits[0].time_s)}."


def picture_words(
    rows: Sequence[Row], scale: Scale, exercise: Exercise, positions: Sequence[PositionMeasures]
) -> list[str]:
    """Return the folded picture in sentences."""
    repetitions = len({row.repetition for row in rows})
    hits = sum(len(row.marks) for row in rows)
    through = count(repetitions, "repetition")
    out = [f"{through} of {count(len(exercise.struck), 'note')}, {count(hits, 'hit')}."]
    out += _timing_words(positions, scale)
    out += _level_words(positions, scale)
    out += _lost_words(rows)
    out += _hidden_words(rows)
    out += _extra_words(rows)
    out += _gap_words(rows)
    return out


def name_note(position: int, exercise_hand: str) -> str:
    """Name a note for people.

    >>> name_note(3, "L")
    'note 4 (L)'
    """
    return f"note {position + 1} ({exercise_hand})"


def _timing_words(positions: Sequence[PositionMeasures], scale: Scale) -> list[str]:
    told = [
        (each.timing_ms.value - scale.centre_ms, each)
        for each in positions
        if each.timing_ms.value is not None
    ]
    late = sorted((pair for pair in told if pair[0] > scale.audible_ms), key=lambda pair: -pair[0])
    early = sorted((pair for pair in told if pair[0] < -scale.audible_ms), key=lambda pair: pair[0])
    out = []
    for pairs, word in ((late, "late"), (early, "early")):
        named = [
            f"{name_note(each.position, each.hand)} by {plain(abs(v), 0)} ms" for v, each in pairs[:NAMED]
        ]
        if named:
            out.append(f"On average {word}{_and_more(len(pairs))}: {listed(named)}.")
    if told and not out:
        out.append(f"No note's mean lies further than {plain(scale.audible_ms, 0)} ms from its place.")
    return out


def _and_more(number: int) -> str:
    return f" ({number} notes, the furthest)" if number > NAMED else ""


def _level_words(positions: Sequence[PositionMeasures], scale: Scale) -> list[str]:
    told = sorted(
        ((each.level_db.value, each) for each in positions if each.level_db.value is not None),
        key=lambda pair: pair[0],
    )
    if len(told) < 2:
        return []
    (low, soft), (high, loud) = told[0], told[-1]
    softest = f"{name_note(soft.position, soft.hand)}, {signed(low - scale.middle_db)} dB"
    loudest = f"{name_note(loud.position, loud.hand)}, {signed(high - scale.middle_db)} dB"
    return [f"Softest on average, against the take's middle: {softest}; loudest: {loudest}."]


def _lost_words(rows: Sequence[Row]) -> list[str]:
    lost = [note for row in rows for note in row.missed if not note.grace]
    if not lost:
        return ["No note was missed."]
    named = [f"note {note.position + 1} in repetition {note.repetition}" for note in lost[:NAMED_LOST]]
    more = f", and {len(lost) - NAMED_LOST} more" if len(lost) > NAMED_LOST else ""
    return [f"{count(len(lost), 'note')} not heard: {', '.join(named)}{more}."]


def _hidden_words(rows: Sequence[Row]) -> list[str]:
    n = sum(len(row.hidden) for row in rows)
    return list(all_remarks((Remark("notes hidden", {"n": n}),))) if n else []


def _extra_words(rows: Sequence[Row]) -> list[str]:
    """Name the extra hits: those in the playing by their place, the others by their reason."""
    extra = [(row.repetition, mark) for row in rows for mark in row.extra]
    inside = [(repetition, mark) for repetition, mark in extra if mark.inside]
    counts = Counter(mark.reason for _, mark in extra if not mark.inside)
    out = [
        f"{count(counts[reason], 'extra hit')} {words}."
        for reason, words in EXTRA_REASONS.items()
        if counts[reason]
    ]
    named = [_extra_place(repetition, mark) for repetition, mark in inside[:NAMED_LOST]]
    more = f", and {len(inside) - NAMED_LOST} more" if len(inside) > NAMED_LOST else ""
    return [*out, f"{count(len(inside), 'extra hit')}: {', '.join(named)}{more}."] if inside else out


def _extra_place(repetition: int, mark: ExtraMark) -> str:
    where = f"after note {mark.before + 1}" if mark.before is not None else "before the first note"
    soft = " (too soft to be sure of)" if mark.reason == "too soft" else ""
    return f"in repetition {repetition} {where}{soft}"


def _gap_words(rows: Sequence[Row]) -> list[str]:
    gaps = [f"{row.gap} (before repetition {row.repetition})" for row in rows if row.gap]
    return [f"Breaks: {'; '.join(gaps)}."] if gaps else []


def clock_words(take: HeardTake) -> str:
    """Say what early and late are told against."""
    return "the click" if take.heard.clock == "click" else "the take's own smooth tempo"


def caption(take: HeardTake, rows: Sequence[Row], scale: Scale, *, grace: bool) -> list[str]:
    """Say how to read the picture: clock, magnification, band, and what was folded."""
    zero = clock_words(take)
    band = f"±{plain(scale.audible_ms, 0 if scale.audible_ms.is_integer() else 1)} ms"
    out = [
        "Each row is one repetition, read downwards; each stick a hit, the longer and heavier the louder.",
        f"Left of the thin line is early against {zero}, right is late, drawn {times_words(scale.factor)}.",
        f"What lies in the pale band, {band}, an ear can't tell.",
    ]
    if scale.centre_ms:
        word = "late" if scale.centre_ms > 0 else "early"
        out.append(
            f"The whole take comes {plain(abs(scale.centre_ms), 0)} ms {word} against {zero}; "
            "picture and figures are drawn around that, so that the notes can be compared."
        )
    if take.heard.clock != "click":
        out.append("Without a click through the playing, timing only compares the hands with each other.")
    if grace:
        out.append("A grace note stands before its main stick, its gap drawn at a third of that scale.")
    if len(rows) > MOST_ROWS:
        out.append(
            "So many repetitions are folded: each hump shows where a note's hits lie, its stick their mean."
        )
    out.append(BENEATH)
    return out


def times_words(factor: float) -> str:
    """Say how much wider than the music time is drawn."""
    if factor == 1:
        return "as wide as the music above draws it"
    return f"{factor:g} times wider than the music above draws time"


def chart_words(hand_readings: Sequence[tuple[str | None, Sequence[float]]], unit: str, stops: int) -> str:
    """Say where each line of a chart begins, ends, and how far it goes."""
    parts = []
    for hand, values in hand_readings:
        if not values:
            continue
        who = f"{hand} hand " if hand else ""
        first, last, low, high = (plain(v) for v in (values[0], values[-1], min(values), max(values)))
        parts.append(f"{who}{first} {unit} at the start, {last} at the end, between {low} and {high}")
    said = f" {count(stops, 'stop')}." if stops else ""
    return (f"{'; '.join(parts)}.{said}" if parts else "Too few hits to draw.").capitalize()


EVEN_SHARE = 0.5  # of a double's first interval
REMARKS: Mapping[RemarkKind, str] = {
    "no note found": "No note of the exercise was found in the take.",
    "notes unmatched": "This does not sound like the exercise.",
    "hits off the notes": "This does not sound like the exercise.",
    "two alignments": "The take fits two alignments.",
    "too few hits": "Too few hits to judge.",
    "nothing stands out": "Nothing stands out, and it is too early to call it even.",
}
STORED: Mapping[FindingKind, str] = {  # of findings that an earlier version stored in words, figures and all
    "unlike_exercise": "This does not sound like the exercise.",
    "two_alignments": "The take fits two alignments.",
    "uneven_above_tempo": "Even to the ear up to a tempo, and uneven above it.",
    "cannot_tell": "Something can't be told yet.",
    "even": "It sounds even.",
    "missed_note": "One note was missed more often than the others.",
}
Says = Callable[[Finding, Exercise | None], str]


def said_in_full(take: HeardTake) -> list[str]:
    """Say everything that is found in a take, and remarked on it: to the teacher and to the student."""
    remarks = [each for each in (take.heard.unlike, take.heard.ambiguity) if each is not None]
    said = all_remarks([*remarks, *take.heard.warnings])
    for finding in take.findings:
        for words in (finding_words, remedy_words, said_to_student):
            said.append(words(finding, take.exercise))
    return said


def student_sentence(take: HeardTake) -> str:
    """Say in one sentence to the student what was heard: the first finding, or what else there is to say."""
    if take.findings and take.exercise is not None and take.heard.unlike is None:
        return said_to_student(take.findings[0], take.exercise)
    return top_sentence(take)


def said_to_student(finding: Finding, exercise: Exercise | None) -> str:
    """Say a finding to the student.

    >>> from evenhand.measuring.values import Evidence
    >>> late = Evidence("balance.timing_ms", -11.2, "ms", 128, (-13.2, -9.1), 8.9)
    >>> said_to_student(Finding("late_hand", late), None)
    'Your left hand comes a little after your right.'
    """
    if finding.question is not None:
        asked = f"Can't tell yet {asked_words(finding, exercise, 'your')}."
        needed = finding.figures.get("repetitions")  # of an earlier version's take, it is not known
        return asked if needed is None or needed.value is None else f"{asked} {would_tell(finding)}"
    if finding.kind in SAID and (finding.remark is None or finding.evidence is not None):
        return SAID[finding.kind](finding, exercise)
    if finding.remark is not None:
        return REMARKS.get(finding.remark.kind) or STORED.get(finding.kind) or remark_words(finding.remark)
    return f"{uneven_above_words(finding)}."


def _off_time(finding: Finding, exercise: Exercise | None) -> str:
    way, evidence = way_words(finding.kind), finding.evidence or NO_EVIDENCE
    if of_both_hands(finding, exercise):
        return f"Both hands come a little {way} on the click."
    if is_of_one_note(finding) and evidence.positions:
        return f"{_note(evidence.positions[0], exercise)} comes a little {way}."
    hand = hand_of(finding, exercise) or "R"
    if evidence.measure.startswith("balance"):
        return f"Your {HAND_NAMES[hand]} hand comes a little after your {HAND_NAMES[other_hand(hand)]}."
    return f"Your {HAND_NAMES[hand]} hand comes a little {way} on the click."


def _note(position: int, exercise: Exercise | None) -> str:
    """Name a note, from 1, with its hand."""
    hand = None if exercise is None or position >= len(exercise.notes) else exercise.notes[position].one_hand
    return f"Note {position + 1}{'' if hand is None else f', by your {HAND_NAMES[hand]} hand,'}"


def _uneven_double(finding: Finding, exercise: Exercise | None) -> str:
    share = (finding.evidence or NO_EVIDENCE).value
    when = "soon" if share is None or share < EVEN_SHARE else "late"
    hand = HAND_NAMES[hand_of(finding, exercise) or "R"]
    return f"In your {hand} hand's doubles the second note comes too {when}."


def _stroke_heights(finding: Finding, exercise: Exercise | None) -> str:
    high = ((finding.evidence or NO_EVIDENCE).value or 0.0) > 0
    hand = HAND_NAMES[hand_of(finding, exercise) or "R"]
    return f"Your {hand} hand's strokes start too {'high' if high else 'low'}."


def _flams(finding: Finding, exercise: Exercise | None) -> str:
    flat = finding.kind == "flam_flat"
    how = "flat: both sticks land almost together" if flat else "wide: the small note comes too early"
    hand = HAND_NAMES[hand_of(finding, exercise) or "R"]
    return f"Your {hand} hand's {ornament_words(finding, exercise)} are too {how}."


def _missed(finding: Finding, exercise: Exercise | None) -> str:
    positions = (finding.evidence or NO_EVIDENCE).positions
    note = _note(positions[0], exercise) if positions else "One note"
    return f"{note} was missed more often than the others."


def _tempo(finding: Finding, _: Exercise | None) -> str:
    click = (finding.evidence or NO_EVIDENCE).measure.startswith("run_from_click")
    if finding.kind == "hurrying":
        return "You run ahead of the click." if click else "You get faster as you play."
    return "You fall behind the click." if click else "You get slower as you play."


def _even(finding: Finding, _: Exercise | None) -> str:
    time = (finding.evidence or NO_EVIDENCE).measure.endswith(("timing_ms", "timing"))
    level = "level" in finding.figures or not time
    if time and level:
        return "Your hands are together, steady and equally loud."
    return "Your hands are together and steady." if time else "Your hands are equally loud."


def _of_hand(words: str) -> Says:
    """Say words of the finding's hand, and of the other."""

    def says(finding: Finding, exercise: Exercise | None) -> str:
        hand = hand_of(finding, exercise) or "R"
        return words.format(hand=HAND_NAMES[hand], other=HAND_NAMES[other_hand(hand)])

    return says


SAID: Mapping[FindingKind, Says] = {
    "even": _even,
    "weak_hand": _of_hand("Your {hand} hand is softer than your {other}."),
    "late_hand": _off_time,
    "early_hand": _off_time,
    "wandering_hand": _of_hand("Your {hand} hand is not steady yet: now early, now late."),
    "weak_second": _of_hand("In your {hand} hand's doubles the second note is softer than the first."),
    "uneven_double": _uneven_double,
    "other_sticking": lambda *_: "You played another sticking than is written.",
    "stroke_heights": _stroke_heights,
    "uneven_heights": _of_hand("Your {hand} hand plays lower than your {other}."),
    "lifted_stick": _of_hand(
        "Your {hand} hand seems to lift the stick after the hit. Let it come back by itself. "
        "(This answer is experimental.)"
    ),
    "accents_flat": _of_hand("Your {hand} hand's accents hardly stand out."),
    "taps_high": _of_hand("Between the accents your {hand} hand plays too loud."),
    "hurrying": _tempo,
    "dragging": _tempo,
    "tiring": lambda *_: "You get tired towards the end.",
    "flam_flat": _flams,
    "flam_wide": _flams,
    "missed_note": _missed,
}
