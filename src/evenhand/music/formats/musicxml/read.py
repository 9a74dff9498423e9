"""MusicXML -> exercises: a percussion part with its stickings, one exercise a passage.

A passage is what stands between repeat signs, double bar lines or rehearsal marks. The part and the voice
with the most stickings are read; what is left out is said in a warning.

Which part of a MusicXML score to read: the percussion one, or the one that is named.

The tempo that a MusicXML part begins with: its first metronome mark, or what it is to be played at.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections import Counter
from collections.abc import Iterable, Iterator
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import islice
from xml.etree import ElementTree as ET

from evenhand.errors import BadTempo
from evenhand.music.book import Entry
from evenhand.music.exercise import DYNAMICS, Dynamic, Hand, Meter, Tempo, other_hand
from evenhand.music.formats.hands import HandsWhereNone, letters_in_words
from evenhand.music.formats.musicxml.signs import letters_at, swell_in_words
from evenhand.music.formats.musicxml.tree import number_of, read_tree, text_of
from evenhand.music.formats.musicxml.voices import (
    LENGTHS,
    Event,
    ScoreMeasure,
    VoiceName,
    dotted,
    walk_measures,
)
from evenhand.music.formats.own import exercise_in_score
from evenhand.music.formats.passages import (
    Passage,
    Reading,
    ReadNote,
    ReadScore,
    Signs,
    check_length,
    score_of,
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
    content: bytes,
    *,
    name: str = "score",
    part: str | None = None,
    hands: HandsWhereNone = "refuse",
    bars: tuple[int, int] | None = None,
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
    hands : "refuse", "alternate", "doubles", "lead" or "right"
        What becomes of notes that no hand is written at.
    bars : (int, int), optional
        The first and the last measure that are wanted, by their numbers.

    Raises
    ------
    UnreadableScore
        Where it is no score, has no percussion part, or cannot be said as exercises.
    """
    reading = Reading(name)
    root = read_tree(content, reading)
    chosen = choose_part(root, reading, part)
    title = text_of(root, "movement-title") or text_of(root, "work/work-title")
    if bars is None and (own := exercise_in_score(root)):
        return ReadScore((Entry(own, title),), tempo_of(chosen.measures), proposed=(0,))
    measures = walk_measures(chosen.measures, reading, bars)
    voice = _voice(measures, reading, chosen)
    _spread_words(measures, voice)
    _spread_marks(measures, voice, reading)
    _settle_second_lines(measures, voice, reading)
    passages = [_passage(run, voice, reading) for run in _runs(measures)]
    if len(root.findall(f"part[@id='{chosen.id}']/measure/direction/direction-type/metronome")) > 1:
        reading.warn("of several tempos only the first was taken over")
    return score_of(passages, reading, title=title, hands=hands, tempo=tempo_of(chosen.measures))


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
            has = [f"measure {measure.number}" for measure in measures if _struck(measure, voice)]
            reading.warn(f"voice {voice[1]} of staff {voice[0]}, {notes}, was left out", *has)
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


def _struck(measure: ScoreMeasure, voice: VoiceName) -> list[Event]:
    return [event for event in measure.voices.get(voice, []) if event.struck]


def _spread_marks(measures: list[ScoreMeasure], voice: VoiceName, reading: Reading) -> None:
    """Give dynamics and swells to the notes that they stand before; a passage begins as loud as it is then.

    A swell's end is not written in exercise text: it goes on to the next dynamic, which is said where there
    is none at its end.
    """
    struck = [(index, event) for index, measure in enumerate(measures) for event in _struck(measure, voice)]
    places = [(index, event.at) for index, event in struck]
    ends: list[int] = []
    for index, measure in enumerate(measures):
        for at, mark in measure.marks:
            note = bisect_left(places, (index, at - measure.slack))
            reading.place = f"measure {measure.number}"
            if mark is None:
                ends.append(note)
            elif note == len(struck):
                reading.warn(f"{mark}, which no note follows, was left out")
            elif dynamic := next((each for each in DYNAMICS if each == mark), None):
                struck[note][1].signs.dynamic = dynamic
            else:
                struck[note][1].signs.swell = swell_in_words(mark)
    for note in ends:
        if note < len(struck) and struck[note][1].signs.dynamic is None:
            reading.place = f"measure {measures[struck[note][0]].number}"
            reading.warn("a swell that ends without a dynamic goes on to the next one")
    reading.place = ""
    holds: Dynamic | None = None
    for run in _runs(measures):
        inside = [event.signs for measure in run for event in _struck(measure, voice)]
        for signs in inside[:1]:
            signs.dynamic = signs.dynamic or holds
        holds = next((signs.dynamic for signs in reversed(inside) if signs.dynamic), holds)


def _settle_second_lines(measures: list[ScoreMeasure], voice: VoiceName, reading: Reading) -> None:
    """Read two letters at a note as both hands at once; where all notes have two, as another way to play."""
    events = [event for measure in measures for event in _struck(measure, voice) if event.letters]
    seconds = [event for event in events if event.second]
    another_way = len(seconds) == len(events) and len({e.letters.hands for e in events if e.letters}) > 1
    if seconds and another_way:
        reading.warn("a second line of sticking was left out")
    for event in events:
        event.signs.both |= event.second is not None and not another_way


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
    meters: list[tuple[Fraction, Meter]] = []
    at = Fraction(0)
    after: Event | None = None  # the note before, for ties
    for before, measure in zip((run[0], *run), run, strict=False):
        place = reading.place = f"measure {measure.number}"
        bars.append(at)
        if measure.meter != before.meter and measure.meter:
            meters.append((at, measure.meter))
        for event in _filled(measure, voice):
            check_length(event.value, place, reading)
            if not (after and _goes_on(event, after, passage)):
                passage.notes += _notes(event, place, after, passage, reading)
            at += event.value
            after = event
        for _, text in measure.words:
            if text != passage.title and not letters_in_words(text) and not _REPETITIONS.fullmatch(text):
                reading.warn(f"words were left out: '{text[:40]}'")
    reading.place = ""
    passage.bars, passage.meters = tuple(bars), tuple(meters)
    if any(measure.meter is None for measure in run) and (meters or passage.meter):
        reading.warn(f"the meter changes ({passage.title or run[0].number}): taken over without one")
        passage.meter, passage.meters = None, ()
    return passage


_REPETITIONS = re.compile(r"[×x] ?\d+")  # how often it is played, beside a repeat sign


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
    if after and after.tied_on and event.tied_back and (after.marks or after.signs.buzz):
        last = passage.notes[-1]
        last.signs.tied = True
        if hands == (None,) and last.hand:
            hands = (other_hand(last.hand),)
    strokes = event.value / event.mark_unit if event.marks else Fraction(1)
    rolled = strokes.denominator == 1 and strokes >= 2
    if len(hands) == 2 and hands[0] != hands[1] and not rolled:
        reading.warn("two hands under one note were read as both at once")
        event.signs.both = True
    note = ReadNote(event.value, True, place, hands[0], event.signs, _grace_hands(event))  # noqa: FBT003 - struck
    if len(hands) > 1 and not (rolled or event.signs.both):
        reading.warn("of several letters under one note only the first was taken over")
    if not rolled:
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
    later = Signs(ghost=note.signs.ghost, sound=note.signs.sound)
    rest = [replace(note, value=each, hand=hand, signs=replace(later), graces=[]) for hand in hands[1:]]
    return [replace(note, value=each, hand=hands[0]), *rest]
