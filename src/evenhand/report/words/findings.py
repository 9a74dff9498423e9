"""Findings in words, for the teacher: what was heard with its figures, and what to practise.

Conventions: a size is said without its sign, the words around it say which way; its interval follows in
brackets, smaller end first. An article comes with the hand, so that the student's words can say "your".

What to practise is common practice, as teachers pass it on; no study stands behind a row, and a student's own
teacher goes before it. ``{hand}`` and ``{other}`` are filled in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from evenhand.measuring.values import AUDIBLE_LEVEL_DB, Evidence, Finding, FindingKind, Measure
from evenhand.music.exercise import HAND_NAMES, HANDS, Exercise, Hand, other_hand
from evenhand.report.words.figures import capitalised, count, listed, plain, sized, sized_way
from evenhand.report.words.remarks import remark_sentences

REMEDIES: Mapping[FindingKind, str] = {
    "unlike_exercise": "Check that this exercise and this tempo were played, and send the take again.",
    "two_alignments": "Leave a short silence before the first note, or let the click sound while you play.",
    "other_sticking": "Play it slowly, saying right and left aloud; or give the sticking that was played.",
    "tiring": (
        "Stop, rest, and come back slower and for a shorter time. "
        "If anything hurts, tingles or goes numb, stop for the day and see a clinician."
    ),
    "missed_note": "Practise this hand change alone, slowly, a few times, and then put it back in its place.",
    "uneven_above_tempo": "Stay just under this tempo until it is easy; then go up in small steps.",
    "hurrying": "Play with the click on every beat, then on every second bar only, and count aloud.",
    "dragging": "Play with the click on every beat, let the stick rebound by itself, and count aloud.",
    "late_hand": "Let the {hand} hand lead for a while, slowly, its stick ready before its turn.",
    "early_hand": "Slow down, leave the {hand} hand up a little longer, and listen to the click.",
    "wandering_hand": "Play the {hand} hand alone to a slow click until it settles; then add the {other}.",
    "uneven_double": "Play slow doubles with two full wrist turns, evenly, before letting them bounce.",
    "weak_second": "Accent the second note of each double, slowly, with the fingers closing on it.",
    "weak_hand": "Begin with the {hand} hand, both sticks from the same height, and listen for one sound.",
    "stroke_heights": (
        "Play the {hand} hand alone before a mirror, and begin each stroke from the height asked for."
    ),
    "uneven_heights": "Play both hands before a mirror, slowly, from one height; the {hand} hand leads.",
    "lifted_stick": (
        "Drop the stick with the {hand} hand from the height asked for and let it come back by itself; "
        "the fingers stay on it and do not pull."
    ),
    "accents_flat": "Lift higher for the accents and play the rest low: two clear stick heights, slowly.",
    "taps_high": "Keep the stick low right after each accent, so that the next note starts near the pad.",
    "flam_flat": "Start the grace note lower and the main note higher; both sticks fall together.",
    "flam_wide": "Bring the grace note's stick nearer to the pad, to land just ahead of the main note.",
    "cannot_tell": "Play it again the same way, for longer.",
    "even": "Keep this, and go a little faster, or softer.",
}
BOTH_HANDS: Mapping[FindingKind, str] = {
    "early_hand": "Count the notes between the clicks aloud, and let the click cover the stroke.",
    "late_hand": "Count the notes between the clicks aloud, and have the sticks up before each click.",
}
EXPERIMENTAL = "experimental: not proven on real players yet"
NO_EVIDENCE = Evidence("", None, "", 0)


def finding_words(finding: Finding, exercise: Exercise | None) -> str:
    """Say a finding.

    >>> from evenhand.measuring.values import Evidence
    >>> late = Evidence("balance.timing_ms", -11.2, "ms", 128, (-13.2, -9.1), 8.9)
    >>> finding_words(Finding("late_hand", late), None)
    'The left hand comes 11 ms behind the right (9 to 13).'
    """
    return " ".join(finding_sentences(finding, exercise))


def finding_sentences(finding: Finding, exercise: Exercise | None) -> tuple[str, ...]:
    """Say a finding, sentence by sentence; the first says what was heard."""
    if finding.remark is not None:
        return remark_sentences(finding.remark)
    if finding.question is not None:
        return (f"Can't tell yet {_open(finding, exercise)}.", would_tell(finding))
    return (capitalised(SAYS[finding.kind](finding, exercise)),)


def remedy_words(finding: Finding, exercise: Exercise | None) -> str:
    """Say what to practise; "" where nothing is."""
    if finding.remark is not None and finding.remark.kind == "written":
        return str(finding.remark.facts["remedy"])
    if not finding.practise:
        return ""
    if of_both_hands(finding, exercise):
        return BOTH_HANDS.get(finding.kind, REMEDIES[finding.kind])
    hand = hand_of(finding, exercise) or "R"
    return REMEDIES[finding.kind].format(hand=HAND_NAMES[hand], other=HAND_NAMES[other_hand(hand)])


def would_tell(finding: Finding) -> str:
    """Say how many repetitions would tell what is open."""
    needed = finding.figures["repetitions"]
    if needed.value is None:
        return f"It lies at the edge of what can be heard: {needed.needs} repetitions might not tell."
    return f"About {count(int(needed.value), 'repetition')} would tell."


def hand_of(finding: Finding, exercise: Exercise | None) -> Hand | None:
    """Return the hand that a finding is about, if it is about one."""
    evidence = finding.evidence or NO_EVIDENCE
    if evidence.hand is not None or exercise is None or len(evidence.positions) != 1:
        return evidence.hand
    position = evidence.positions[0]
    return exercise.notes[position].hand if position < len(exercise.notes) else None


def of_both_hands(finding: Finding, exercise: Exercise | None) -> bool:
    """Tell whether a finding is that both hands come early, or late, on the click."""
    evidence = finding.evidence or NO_EVIDENCE
    if exercise is None or not evidence.measure.endswith("timing_mean_ms"):
        return False
    return {exercise.notes[p].hand for p in evidence.positions if p < len(exercise.notes)} >= {"R", "L"}


def is_of_one_note(finding: Finding) -> bool:
    """Tell whether a finding is about one note among a hand's others."""
    return finding.evidence is not None and finding.evidence.measure == "positions.timing_ms"


def _signed_db(figure: Measure) -> str:
    """Say a level with its sign, where it is not clear yet which way it goes."""
    low, high = figure.ci95 or (0.0, 0.0)
    return f"{plain(figure.value or 0.0, 1)} dB ({plain(low, 1)} to {plain(high, 1)})"


def note_in_words(exercise: Exercise | None, position: int) -> str:
    """Name a note by its number and by the hand change it stands in.

    >>> from fractions import Fraction
    >>> from evenhand.music.exercise import Note
    >>> notes = Exercise(tuple(Note(h, Fraction(1, 16)) for h in "LRRL"))
    >>> note_in_words(notes, 3)
    'note 4, the left after the double right'
    """
    if exercise is None:
        return f"note {position + 1}"
    struck = exercise.struck
    number = struck.index(position)
    hands = [exercise.notes[p].hand or "R" for p in struck]
    hand = hands[number]
    run = 1
    while run < len(hands) and hands[number - run] == hand:
        run += 1
    name = f"note {number + 1}"
    if run >= len(hands):
        return f"{name}, the {HAND_NAMES[hand]}"
    if run > 1:
        return f"{name}, the {_ORDINALS.get(run, f'{run}th')} {HAND_NAMES[hand]} in a row"
    before = 1
    while before < len(hands) and hands[number - 1 - before] != hand:
        before += 1
    other = HAND_NAMES[other_hand(hand)]
    run_of = _RUNS[before] + other if before in _RUNS else f"run of {other}s"
    return f"{name}, the {HAND_NAMES[hand]} after the {run_of}"


_ORDINALS = {2: "second", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh", 8: "eighth"}
_RUNS = {1: "", 2: "double ", 3: "triple "}


def _hands(finding: Finding, exercise: Exercise | None) -> tuple[str, str]:
    """Name the finding's hand, and the other."""
    hand = hand_of(finding, exercise) or "R"
    return HAND_NAMES[hand], HAND_NAMES[other_hand(hand)]


def _figure(finding: Finding) -> Measure:
    return (finding.evidence or NO_EVIDENCE).figure


def _edge(finding: Finding) -> float:
    return (finding.evidence or NO_EVIDENCE).audible_from or 0.0


def way_words(kind: FindingKind) -> str:
    """Say which way a hand is off its time."""
    return "late" if kind == "late_hand" else "early"


def _off_time(finding: Finding, exercise: Exercise | None) -> str:
    hand, other = _hands(finding, exercise)
    figure, way = _figure(finding), way_words(finding.kind)
    if is_of_one_note(finding):
        note = note_in_words(exercise, (finding.evidence or NO_EVIDENCE).positions[0])
        others = f"{'behind' if way == 'late' else 'ahead of'} that hand's others"
        return f"{note}, comes {sized_way(figure, others)}."
    if of_both_hands(finding, exercise):
        parts = [f"the {HAND_NAMES[h]} by {sized(finding.figures[h])}" for h in HANDS if h in finding.figures]
        return f"both hands come {way} on the click: {listed(parts)}."
    if (finding.evidence or NO_EVIDENCE).measure.startswith("balance"):
        return f"the {hand} hand comes {sized_way(figure, f'behind the {other}')}."
    return f"the {hand} hand comes {sized_way(figure, way)}."


def _tempo(finding: Finding, _: Exercise | None) -> str:
    hurries = finding.kind == "hurrying"
    if "change" not in finding.figures:
        way = "runs ahead of" if hurries else "falls behind"
        return f"the playing {way} the click by {sized(_figure(finding))} over the take."
    first, last = (plain(finding.figures[key].value or 0.0, 0) for key in ("first", "last"))
    verb, change = "hurries" if hurries else "drags", sized(finding.figures["change"])
    return f"the tempo {verb}, from about {first} to {last} beats a minute: {change}."


def _tiring(finding: Finding, _: Exercise | None) -> str:
    figures, parts = finding.figures, []
    if "softer by" in figures:
        parts.append(f"it ends {sized(figures['softer by'])} softer than it began")
    if "scatter grows by" in figures:
        parts.append(f"the scatter of its timing grows by {sized(figures['scatter grows by'])}")
    return f"the take tires: {listed(parts)}."


def _missed(finding: Finding, exercise: Exercise | None) -> str:
    evidence = finding.evidence or NO_EVIDENCE
    missed = round((evidence.value or 0.0) * evidence.n)
    note = note_in_words(exercise, evidence.positions[0])
    return f"{note}, is missed in {missed} of {count(evidence.n, 'repetition')}."


def uneven_above_words(finding: Finding) -> str:
    """Say up to which tempo a take is even."""
    held = plain(finding.figures["even up to"].value or 0.0, 0)
    return f"Even to the ear up to about {held} beats a minute and uneven above"


def _uneven_above(finding: Finding, _: Exercise | None) -> str:
    below, above = sized(finding.figures["below"]), sized(_figure(finding))
    return f"{uneven_above_words(finding)}: the notes scatter by {below} below, by {above} above."


def _uneven_double(finding: Finding, exercise: Exercise | None) -> str:
    hand, figure = _hands(finding, exercise)[0], _figure(finding)
    way = "crushed: the second note comes too soon"
    if (figure.value or 0.0) >= 0.5:
        way = "too open: the second note comes too late"
    where = f"at {sized(figure, '')} of the way to the other hand's note, where 0.50 is even"
    return f"the {hand} hand's doubles are {way}, {where}."


def _stroke_heights(finding: Finding, exercise: Exercise | None) -> str:
    hand, _ = _hands(finding, exercise)
    figure, height = _figure(finding), finding.figures["height"]
    way = "higher" if (figure.value or 0.0) > 0 else "lower"
    return (
        f"the {hand} hand's strokes start {sized_way(figure, f'{way} than asked for')}: at {sized(height)}."
    )


def _lifted(finding: Finding, exercise: Exercise | None) -> str:
    hand, _ = _hands(finding, exercise)
    return (
        f"the {hand} hand seems to lift the stick after the hit instead of letting it rebound, in "
        f"{sized(_figure(finding))} of its strokes ({EXPERIMENTAL})."
    )


def ornament_words(finding: Finding, exercise: Exercise | None) -> str:
    """Name the ornaments that a finding is about."""
    positions = (finding.evidence or NO_EVIDENCE).positions
    drags = exercise is not None and positions and len(exercise.notes[positions[0]].graces) > 1
    return "drags" if drags else "flams"


def _flams(finding: Finding, exercise: Exercise | None) -> str:
    kind = finding.question or finding.kind
    how = "flat" if kind == "flam_flat" else "wide"
    ornaments = f"the {_hands(finding, exercise)[0]} hand's {ornament_words(finding, exercise)}"
    where = f"the grace note falls {sized(_figure(finding))} ahead of its main note"
    return f"{ornaments} are too {how}: {where}."


def _even(finding: Finding, _: Exercise | None) -> str:
    figures, parts = finding.figures, []
    if "timing" in figures:
        said = {hand: plain(figures[f"{hand} scatters by"].value or 0.0, 1) for hand in HANDS}
        scatter = listed([f"{said[hand]} ms ({HAND_NAMES[hand]})" for hand in HANDS])
        parts.append(
            f"in timing, the hands are within {_reach(figures['timing'])} ms of each other "
            f"and their notes scatter by {scatter}"
        )
    if "level" in figures:
        parts.append(f"in level, the hands are within {_reach(figures['level'])} dB of each other")
    return f"Even to the ear: {'; '.join(parts)}."


def _reach(figure: Measure) -> str:
    """Say how far a figure may lie from zero, at most."""
    low, high = figure.ci95 or (0.0, 0.0)
    return plain(max(abs(low), abs(high)), 1)


def _of_hand(words: str, figure_words: Callable[[Measure], str] = sized) -> Callable[..., str]:
    """Say words of the finding's hand, of the other, and of its figure."""

    def says(finding: Finding, exercise: Exercise | None) -> str:
        hand, other = _hands(finding, exercise)
        return words.format(hand=hand, other=other, sized=figure_words(_figure(finding)))

    return says


SAYS: Mapping[FindingKind, Callable[[Finding, Exercise | None], str]] = {
    "tiring": _tiring,
    "missed_note": _missed,
    "uneven_above_tempo": _uneven_above,
    "hurrying": _tempo,
    "dragging": _tempo,
    "late_hand": _off_time,
    "early_hand": _off_time,
    "wandering_hand": _of_hand("the {hand} hand wanders: its notes scatter by {sized} about their place."),
    "uneven_double": _uneven_double,
    "weak_second": _of_hand(
        "the second note of the {hand} hand's doubles is softer than the first by {sized}."
    ),
    "weak_hand": _of_hand("the {hand} hand is softer than the {other} by {sized}."),
    "stroke_heights": _stroke_heights,
    "uneven_heights": _of_hand("the {hand} hand plays lower than the {other} by {sized}."),
    "lifted_stick": _lifted,
    "accents_flat": _of_hand(
        "the {hand} hand's accents hardly stand out: {sized} over its unaccented notes.", _signed_db
    ),
    "taps_high": _of_hand("the {hand} hand's unaccented notes are loud: only {sized} under its accents."),
    "flam_flat": _flams,
    "flam_wide": _flams,
    "even": _even,
}


def asked_words(finding: Finding, exercise: Exercise | None, the: str = "the") -> str:
    """Say what is open, without its figures."""
    hand, other = _hands(finding, exercise)
    kind = finding.question or finding.kind
    if kind in {"late_hand", "early_hand"}:
        if (finding.evidence or NO_EVIDENCE).measure.startswith("balance"):
            return f"whether {the} {hand} hand comes behind {the} {other}"
        return f"whether {the} {hand} hand comes {way_words(kind)}"
    if kind in {"flam_flat", "flam_wide"}:
        how = "flat" if kind == "flam_flat" else "wide"
        return f"whether {the} {hand} hand's {ornament_words(finding, exercise)} are too {how}"
    return f"whether {QUESTIONS[kind].format(hand=f'{the} {hand} hand')}"


QUESTIONS: Mapping[FindingKind, str] = {
    "wandering_hand": "{hand} wanders",
    "hurrying": "the tempo hurries",
    "dragging": "the tempo drags",
    "tiring": "the sound tires",
    "weak_hand": "{hand} is softer",
    "weak_second": "the second note of {hand}'s doubles is softer",
    "uneven_double": "{hand}'s doubles are even",
    "accents_flat": "{hand}'s accents stand out enough",
    "taps_high": "{hand}'s accents stand out enough",
}


def _open(finding: Finding, exercise: Exercise | None) -> str:
    """Say what is open, its figure, and from where on it would be heard."""
    figure, edge, figures = _figure(finding), _edge(finding), finding.figures
    said = OPEN[finding.question or finding.kind].format(
        sized=sized(figure),
        signed=_signed_db(figure),
        share=sized(figure, ""),
        edge=edge,
        edge_ms=plain(edge, 0 if abs(edge - round(edge)) < 0.05 else 1),
        change=sized(figures.get("change", figure)),
        edge_percent=figures.get("audible from", figure).value,
        softer=sized(figures.get("softer by", figure)),
        level=AUDIBLE_LEVEL_DB,
    )
    return f"{asked_words(finding, exercise)}: {said}"


_OFF_TIME = "{sized}, audible from {edge_ms} ms"
_TEMPO = "{change} over the take, audible from {edge_percent:g} %"
_ACCENTS = "{signed} over its unaccented notes, where {edge:g} dB would be clear"
_GRACES = "the grace note falls {sized} ahead of its main note, and {edge:g} ms would be the limit"
OPEN: Mapping[FindingKind, str] = {
    "late_hand": _OFF_TIME,
    "early_hand": _OFF_TIME,
    "wandering_hand": f"its notes scatter by {_OFF_TIME}",
    "hurrying": _TEMPO,
    "dragging": _TEMPO,
    "tiring": "it ends {softer} softer, audible from {level:g} dB",
    "weak_hand": "{sized}, audible from {edge:g} dB",
    "weak_second": "{signed}, audible from {edge:g} dB",
    "uneven_double": "{share}, where 0.50 is even",
    "accents_flat": _ACCENTS,
    "taps_high": _ACCENTS,
    "flam_flat": _GRACES,
    "flam_wide": _GRACES,
}
