"""MusicXML -> exercises: a percussion part with its stickings, one exercise a passage.

A passage is what stands between repeat signs, double bar lines or rehearsal marks. The part and the voice
with the most stickings are read; what is left out is said in a warning.

Which part of a MusicXML score to read: the percussion one, or the one that is named.

The tempo that a MusicXML part begins with: its first metronome mark, or what it is to be played at.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice
from xml.etree import ElementTree as ET

from evenhand.errors import BadTempo
from evenhand.music.book import Entry
from evenhand.music.exercise import Hand, Tempo, other_hand
from evenhand.music.formats.musicxml.tree import number_of, read_tree, text_of
from evenhand.music.formats.musicxml.voices import (
    LENGTHS,
    Event,
    ScoreMeasure,
    VoiceName,
    dotted,
    letters_at,
    walk_measures,
)
from evenhand.music.formats.own import exercise_in_score
from evenhand.music.formats.passages import (
    HandsWhereNone,
    Passage,
    Reading,
    ReadNote,
    ReadScore,
    check_length,
    entries_of,
    letters_in_words,
)


@dataclass(frozen=True, slots=True)
class ScorePart:
    """A part: its id, its name for people, its measures, and what speaks for it."""

    id: str
    name: str
    measures: tuple[ET.Element, ...]
    percussion: bool
    stickings: int


def choose_part(root: ET.Element, reading: Reading, wanted: str | None) -> ScorePart:
    """Return the part to read.

    Raises
    ------
    UnreadableScore
        Where there is none of that name, or no percussion part.
    """
    parts = _parts(root)
    if not parts:
        raise reading.refuse("a score without parts", "Export it again as MusicXML.")
    names = ", ".join(f"'{part.name}'" for part in parts[:8])
    if wanted is not None:
        for number, part in enumerate(parts, start=1):
            if wanted.strip().casefold() in {part.id.casefold(), part.name.casefold(), str(number)}:
                return part
        raise reading.refuse(f"no part '{wanted.strip()}' in it", f"Its parts are {names}.")
    fit = [part for part in parts if part.percussion or part.stickings]
    if not fit:
        raise reading.refuse(
            f"no percussion part and no stickings in it, only {names}",
            "Name a part with --part to take over its rhythm.",
        )
    best = max(fit, key=lambda part: (part.stickings, part.percussion))
    if len(fit) > 1:
        reading.warn(f"only the part '{best.name}' was read, of {len(fit)} for percussion")
    return best


def _parts(root: ET.Element) -> list[ScorePart]:
    listed = {entry.get("id", ""): entry for entry in root.iterfind("part-list/score-part")}
    parts = []
    for element in root.iterfind("part"):
        entry = listed.get(element.get("id", ""))
        notes = list(element.iterfind("measure/note"))
        parts.append(
            ScorePart(
                id=element.get("id", ""),
                name=_name(element, entry),
                measures=tuple(element.iterfind("measure")),
                percussion=_is_percussion(element, entry, notes),
                stickings=sum(letters_at(note) is not None for note in notes),
            )
        )
    return parts


def _name(element: ET.Element, entry: ET.Element | None) -> str:
    name = text_of(entry, "part-name") if entry is not None else ""
    return (name or element.get("id") or "?")[:60]


def _is_percussion(element: ET.Element, entry: ET.Element | None, notes: list[ET.Element]) -> bool:
    """Tell a percussion part by its notes, its clef, or its MIDI channel."""
    if any(note.find("unpitched") is not None for note in notes):
        return True
    if any(sign.text == "percussion" for sign in element.iterfind("measure/attributes/clef/sign")):
        return True
    channels = [] if entry is None else entry.findall("midi-instrument/midi-channel")
    return any((channel.text or "").strip() == "10" for channel in channels)


def tempo_of(measures: Iterable[ET.Element]) -> Tempo | None:
    """Return the first tempo, if one is written that can be."""
    played: Tempo | None = None
    for measure in measures:
        for mark in measure.iterfind("direction/direction-type/metronome"):
            tempo = _marked(mark)
            if tempo:
                return tempo
        for sound in (*measure.iterfind("direction/sound"), *measure.iterfind("sound")):
            played = played or _tempo(Fraction(1, 4), sound.get("tempo"))
    return played


def _marked(mark: ET.Element) -> Tempo | None:
    units = mark.findall("beat-unit")
    if len(units) != 1 or text_of(mark, "beat-unit") not in LENGTHS:
        return None
    beat = dotted(LENGTHS[text_of(mark, "beat-unit")], mark.findall("beat-unit-dot"))
    return _tempo(beat, mark.findtext("per-minute"))


def _tempo(beat: Fraction, text: str | None) -> Tempo | None:
    bpm = number_of(text)
    if bpm:
        with suppress(BadTempo):
            return Tempo(beat, float(bpm))
    return None


def read_musicxml(
    content: bytes, *, name: str = "score", part: str | None = None, hands: HandsWhereNone = "refuse"
) -> ReadScore:
    """Read the exercises of a score.

    Parameters
    ----------
    content : bytes
        The XML, not packed.
    name : str
        What messages call the file.
    part : str, optional
        The part's name, id or number from 1; else the percussion part.
    hands : "refuse", "alternate" or "right"
        What becomes of notes that no hand is written at.

    Raises
    ------
    UnreadableScore
        Where it is no score, has no percussion part, or cannot be said as exercises.
    """
    reading = Reading(name)
    root = read_tree(content, reading)
    chosen = choose_part(root, reading, part)
    title = text_of(root, "movement-title") or text_of(root, "work/work-title")
    if own := exercise_in_score(root):
        return ReadScore((Entry(own, title),), tempo_of(chosen.measures))
    measures = walk_measures(chosen.measures, reading)
    voice = _voice(measures, reading, chosen)
    _spread_words(measures, voice)
    passages = [_passage(run, voice, reading) for run in _runs(measures)]
    entries = entries_of(passages, reading, title=title, hands=hands)
    return ReadScore(entries, tempo_of(chosen.measures), reading.warnings)


def _voice(measures: list[ScoreMeasure], reading: Reading, part: ScorePart) -> VoiceName:
    """Choose the voice with the most stickings, or else the most notes."""
    struck: Counter[VoiceName] = Counter()
    named: Counter[VoiceName] = Counter()
    for measure in measures:
        for voice, events in measure.voices.items():
            struck[voice] += sum(event.struck for event in events)
            named[voice] += sum(event.letters is not None for event in events)
    if not +struck:
        raise reading.refuse(f"the part '{part.name}' has no struck notes", "Name another with --part.")
    best = max(struck, key=lambda voice: (named[voice], struck[voice]))
    for voice, count in struck.items():
        if voice != best and count:
            notes = "1 note" if count == 1 else f"{count} notes"
            reading.warn(f"voice {voice[1]} of staff {voice[0]}, {notes}, was left out")
    return best


def _spread_words(measures: list[ScoreMeasure], voice: VoiceName) -> None:
    """Give letters that stand as words in a bar to the notes from there on that have none of their own."""
    struck = [
        (index, event.at, event)
        for index, measure in enumerate(measures)
        for event in measure.voices.get(voice, [])
        if event.struck and not event.tied_back
    ]
    first = 0
    for index, measure in enumerate(measures):
        for at, words in sorted(measure.words, key=lambda each: each[0]):
            letters = letters_in_words(words)
            while first < len(struck) and (struck[first][0], struck[first][1]) < (index, at - measure.slack):
                first += 1
            for (_, _, event), each in zip(islice(struck, first, None), letters, strict=False):
                event.letters = event.letters or each


def _runs(measures: list[ScoreMeasure]) -> Iterator[list[ScoreMeasure]]:
    """Cut the part into passages."""
    run: list[ScoreMeasure] = []
    for measure in measures:
        if run and (measure.opens or run[-1].closes):
            yield run
            run = []
        run.append(measure)
    if run:
        yield run


def _passage(run: list[ScoreMeasure], voice: VoiceName, reading: Reading) -> Passage:
    """Put the measures of a passage together."""
    passage = Passage([], run[0].meter, title=_title(run[0]))
    bars: list[Fraction] = []
    at = Fraction(0)
    after: Event | None = None  # the note before, for ties
    for measure in run:
        bars.append(at)
        for event in _filled(measure, voice):
            check_length(event.value, f"measure {measure.number}", reading)
            if not (after and _goes_on(event, after, passage)):
                passage.notes += _notes(event, f"measure {measure.number}", after, passage, reading)
            at += event.value
            after = event
    passage.bars = tuple(bars)
    if any(measure.meter != passage.meter for measure in run):
        reading.warn(f"the meter changes ({passage.title or run[0].number}): taken over without one")
        passage.meter = None
    return passage


def _title(measure: ScoreMeasure) -> str:
    """Take a passage's title from its rehearsal mark, or from words over its first beat."""
    words = (text for at, text in measure.words if at == 0 and not letters_in_words(text))
    return measure.rehearsal or next(words, "")


def _filled(measure: ScoreMeasure, voice: VoiceName) -> Iterator[Event]:
    """Walk a voice's events, with rests where it says nothing."""
    at = Fraction(0)
    for event in sorted(measure.voices.get(voice, []), key=lambda event: event.at):
        if event.at - at >= measure.slack:
            yield Event(at, event.at, event.at - at, struck=False)
        yield event
        at = event.end
    if measure.length - at >= measure.slack:
        yield Event(at, measure.length, measure.length - at, struck=False)


def _goes_on(event: Event, after: Event, passage: Passage) -> bool:
    """Lengthen the note before by one that is tied to it and has no sticking of its own."""
    tied = event.struck and event.tied_back and after.struck and after.tied_on and event.letters is None
    if not tied or after.marks or event.marks:
        return False  # the note that a roll is tied to is struck
    passage.notes[-1].value += event.value
    return True


def _notes(
    event: Event, place: str, after: Event | None, passage: Passage, reading: Reading
) -> list[ReadNote]:
    """Make one note, or the strokes of a measured tremolo."""
    if not event.struck:
        return [ReadNote(event.value, False, place)]  # noqa: FBT003 - a rest
    hands: tuple[Hand | None, ...] = event.letters.hands if event.letters else (None,)
    if hands == (None,) and after and after.marks and event.tied_back and (last := passage.notes[-1].hand):
        hands = (other_hand(last),)
    graces = _grace_hands(event)
    strokes = event.value / event.mark_unit if event.marks else Fraction(1)
    note = ReadNote(event.value, True, place, hands[0], event.accent, event.buzz, graces)  # noqa: FBT003 - struck
    if strokes.denominator != 1 or strokes < 2:
        return [note]
    reading.warn("measured tremolos were written out: two strokes with one hand, longer ones as doubles")
    return _rolled(note, hands, int(strokes))


def _grace_hands(event: Event) -> list[Hand | None]:
    """Take the graces' hands from their own letters, or from their note's (lR)."""
    said = event.letters.graces if event.letters else ()
    if said and len(said) == len(event.graces) and not any(event.graces):
        return list(said)
    return event.graces


def _rolled(note: ReadNote, hands: tuple[Hand | None, ...], strokes: int) -> list[ReadNote]:
    """Write out a measured tremolo, by the letters it has or in doubles."""
    first = hands[0]
    if len(hands) != strokes:
        pair = (first, first, *(2 * (other_hand(first) if first else None,)))
        hands = tuple(pair[k % 4] for k in range(strokes))
    each = note.value / strokes
    rest = [replace(note, value=each, hand=hand, accent=False, graces=[]) for hand in hands[1:]]
    return [replace(note, value=each, hand=hands[0]), *rest]
