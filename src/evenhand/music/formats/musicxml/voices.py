"""A MusicXML part, walked measure by measure into voices.

Conventions: times are ``Fraction`` of a whole note from the measure's start. A voice is named by its staff
and its number. What concerns the whole measure (time, repeats, rehearsal marks, words) is kept beside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree import ElementTree as ET

from evenhand.music.engraving.notation import NoteShape
from evenhand.music.exercise import Dynamic, Hand, Meter, Swell, meter_of
from evenhand.music.formats.hands import Letters
from evenhand.music.formats.musicxml.signs import (
    dynamic_in,
    jumps,
    left_out,
    letters_at,
    second_letters,
    signs_at,
    spoken,
    swell_in_words,
)
from evenhand.music.formats.musicxml.tree import TYPES, number_of, text_of, whole_number_of
from evenhand.music.formats.passages import Reading, Signs

VoiceName = tuple[str, str]
LENGTHS = {name: NoteShape(base).length for base, name in TYPES.items()}
CLOSING_BARS = {"light-light", "light-heavy", "heavy-heavy", "heavy-light"}
FINEST = 10**12  # of a whole note; what a score holds is coarser by far
MOST_PLACES = 2  # on the staff: a drum and a foot; where there are more, an x is no cross-stick
_NO_MUSIC = {"print", "sound", "listening", "link", "bookmark", "grouping"}
SLACK_DIVISIONS = Fraction(3, 2)  # a program that rounds a tuplet's length is less than this off


@dataclass(slots=True)
class Event:
    """A note or rest of one voice. ``value`` is its written length, ``end`` where the file says it ends."""

    at: Fraction
    end: Fraction
    value: Fraction
    struck: bool
    letters: Letters | None = None
    second: Letters | None = None  # what a second line of letters says
    signs: Signs = field(default_factory=Signs)
    marks: int = 0  # of a measured tremolo on this note
    mark_unit: Fraction = Fraction(0)  # what the marks divide the note into
    graces: list[Hand | None] = field(default_factory=list)
    tied_back: bool = False
    tied_on: bool = False


@dataclass(slots=True)
class ScoreMeasure:
    """One measure as read. ``meter`` is None where none is shown; ``slack`` is the rounding to allow for."""

    number: str
    meter: Meter | None
    slack: Fraction
    voices: dict[VoiceName, list[Event]] = field(default_factory=dict)
    length: Fraction = Fraction(0)
    words: list[tuple[Fraction, str]] = field(default_factory=list)
    marks: list[tuple[Fraction, Dynamic | Swell | None]] = field(default_factory=list)  # None ends a swell
    rehearsal: str = ""
    opens: bool = False
    closes: bool = False


@dataclass(slots=True)
class _Walk:
    """Where the walk is, and what holds on from measure to measure."""

    reading: Reading
    divisions: Fraction = Fraction(1)
    meter: Meter | None = None
    at: Fraction = Fraction(0)
    one_drum: bool = True
    graces: dict[VoiceName, list[Hand | None]] = field(default_factory=dict)

    def length(self, element: ET.Element) -> Fraction:
        """Read a duration, as a fraction of a whole note."""
        return (number_of(element.findtext("duration")) or Fraction(0)) / self.divisions / 4


def walk_measures(
    measures: Sequence[ET.Element], reading: Reading, bars: tuple[int, int] | None = None
) -> list[ScoreMeasure]:
    """Read the measures of one part; of ``bars`` (first, last) only those, by their numbers."""
    places = {ET.tostring(each) for measure in measures for each in measure.iterfind("note/unpitched")}
    walk, counted = _Walk(reading, one_drum=len(places) <= MOST_PLACES), 0
    if not walk.one_drum:
        reading.warn(f"notes at {len(places)} places of the staff were read as one drum")
    walked = []
    for number, element in enumerate(measures, start=1):
        counted += max(1, sum(child.tag == "note" for child in element))
        reading.check_number(counted)
        at = whole_number_of(element.get("number", "")) or number
        reading.outside = bars is not None and not bars[0] <= at <= bars[1]
        read = _measure(element, walk)
        if not reading.outside:
            walked.append(read)
    reading.place, reading.outside = "", False
    if not walked:
        raise reading.refuse("none of the bars that were asked for", "Ask for others with --bars.")
    return walked


def _measure(element: ET.Element, walk: _Walk) -> ScoreMeasure:
    walk.at = Fraction(0)
    walk.graces.clear()
    measure = ScoreMeasure(element.get("number", "?")[:8], walk.meter, Fraction(0))
    walk.reading.place = f"measure {measure.number}"
    for child in element:
        if child.tag in _READERS:
            _READERS[child.tag](child, measure, walk)
        elif child.tag not in _NO_MUSIC:
            walk.reading.warn(f"{spoken(child.tag)} was left out")
        jumps(child if child.tag == "sound" else child.find("sound"), walk.reading)
        if walk.at.denominator > FINEST:
            raise walk.reading.refuse(
                f"lengths in measure {measure.number} that fit nowhere", "Export it again."
            )
        measure.length = max(measure.length, walk.at)
    if not measure.length and walk.meter:
        measure.length = walk.meter.bar
    if any(walk.graces.values()):
        walk.reading.warn("graces that no note follows were left out")
    measure.meter = walk.meter
    measure.slack = SLACK_DIVISIONS / walk.divisions / 4
    return measure


def _backup(element: ET.Element, measure: ScoreMeasure, walk: _Walk) -> None:
    measure.length = max(measure.length, walk.at)
    walk.at = max(walk.at - walk.length(element), Fraction(0))


def _forward(element: ET.Element, _: ScoreMeasure, walk: _Walk) -> None:
    walk.at += walk.length(element)


def _attributes(element: ET.Element, _: ScoreMeasure, walk: _Walk) -> None:
    divisions = number_of(element.findtext("divisions"))
    if divisions:
        walk.divisions = divisions
    time = element.find("time")
    if time is not None:
        walk.meter = _meter(time)
    for style in ("measure-repeat", "beat-repeat", "slash"):
        if element.find(f"measure-style/{style}") is not None:
            walk.reading.warn("signs for repeated or slashed bars were not followed")


def _meter(time: ET.Element) -> Meter | None:
    """Read a time signature that is shown; 3+2 over 8 is counted in groups."""
    beats = [whole_number_of(part) or 0 for part in (time.findtext("beats") or "").split("+")]
    unit = whole_number_of(time.findtext("beat-type"))
    if time.get("print-object") == "no" or unit is None or len(time.findall("beats")) != 1:
        return None
    return meter_of(sum(beats), unit, tuple(beats) if beats[1:] else ()) if all(beats) else None


def _note(element: ET.Element, measure: ScoreMeasure, walk: _Walk) -> None:
    """Read a note, a rest, a grace, or a note of a chord."""
    voice = (text_of(element, "staff") or "1", text_of(element, "voice") or "1")
    if element.find("chord") is not None:
        _together(element, measure.voices.get(voice, []), walk)
        return
    if element.find("cue") is not None:
        walk.reading.warn("cue notes were read as rests")
    struck = element.find("rest") is None and element.find("cue") is None
    if element.find("grace") is not None:
        if struck:
            left_out(element, walk.reading)
            letters = letters_at(element)
            walk.graces.setdefault(voice, []).append(letters.hands[0] if letters else None)
        return
    length = walk.length(element)
    if length <= 0:
        walk.reading.warn("notes without a length were left out")
        return
    slack = SLACK_DIVISIONS / walk.divisions / 4
    event = Event(walk.at, walk.at + length, _value(element, length, slack), struck)
    if struck:
        _signs(element, event, walk)
        event.graces = walk.graces.pop(voice, [])
    else:
        left_out(element, walk.reading)
    measure.voices.setdefault(voice, []).append(event)
    walk.at += length


def _together(element: ET.Element, events: list[Event], walk: _Walk) -> None:
    """Take a note that is struck with the one before it as the other hand of a unison, if letters say so."""
    main = events[-1] if events else None
    letters = main.letters if main else None
    other = letters_at(element)
    if main and letters and other and len(other.hands) == 1 and other.hands != letters.hands:
        main.signs.both = True
    elif not (main and letters and (letters.both or main.signs.both or main.second)):
        walk.reading.warn("of notes struck together only one was taken over")
    left_out(element, walk.reading)


def _value(element: ET.Element, length: Fraction, slack: Fraction) -> Fraction:
    """Return the length that is drawn where the file's own is only a rounding of it."""
    base = LENGTHS.get(text_of(element, "type"))
    if base is None:
        return length
    drawn = dotted(base, element.findall("dot"))
    actual = whole_number_of(element.findtext("time-modification/actual-notes")) or 1
    normal = whole_number_of(element.findtext("time-modification/normal-notes")) or 1
    drawn = drawn * normal / actual
    return drawn if abs(drawn - length) < slack else length


def _signs(element: ET.Element, event: Event, walk: _Walk) -> None:
    """Read what stands at a struck note."""
    event.letters = letters_at(element)
    event.second = second_letters(element, event.letters)
    event.signs = signs_at(element, one_drum=walk.one_drum, reading=walk.reading)
    event.signs.both = event.letters is not None and event.letters.both
    ties = {tie.get("type") for path in ("tie", "notations/tied") for tie in element.iterfind(path)}
    event.tied_back, event.tied_on = "stop" in ties, "start" in ties
    tremolo = element.find("notations/ornaments/tremolo")
    if tremolo is not None:
        _tremolo(element, tremolo, event, walk)


def _tremolo(element: ET.Element, tremolo: ET.Element, event: Event, walk: _Walk) -> None:
    """Read a buzz, or how finely a measured tremolo divides its note."""
    marks = whole_number_of(tremolo.text or "") or 0
    if tremolo.get("type") in {"start", "stop"}:
        walk.reading.warn("tremolos between two notes were left out")
    elif tremolo.get("type") == "unmeasured" or marks == 0:
        event.signs.buzz = True
    elif marks <= 4:
        base = LENGTHS.get(text_of(element, "type"), Fraction(1, 4))
        event.marks = marks
        event.mark_unit = (
            min(base, Fraction(1, 4)) / 2**marks * event.value / dotted(base, element.findall("dot"))
        )


def dotted(base: Fraction, dots: list[ET.Element]) -> Fraction:
    """Return a length with its dots, four at most."""
    return base * (2 - Fraction(1, 2 ** min(len(dots), 4)))


def _direction(element: ET.Element, measure: ScoreMeasure, walk: _Walk) -> None:
    at = walk.at + (number_of(element.findtext("offset")) or Fraction(0)) / walk.divisions / 4
    sound = element.find("sound")
    says_tempo = sound is not None and sound.get("tempo") is not None
    for kind in element.iterfind("direction-type"):
        for child in kind:
            text = " ".join((child.text or "").split())
            if child.tag == "rehearsal" and text:
                measure.rehearsal = measure.rehearsal or text
                measure.opens = True
            elif child.tag == "words" and (swell := swell_in_words(text)):
                measure.marks.append((at, swell))
            elif child.tag == "words" and text and not says_tempo:
                measure.words.append((at, text))
            elif child.tag == "wedge":
                measure.marks += _wedge(at, child)
            elif child.tag == "dynamics" and (dynamic := dynamic_in(child, walk.reading)):
                measure.marks.append((at, dynamic))
            elif child.tag not in _DIRECTIONS:
                walk.reading.warn(f"{spoken(child.tag)} was left out")


def _wedge(at: Fraction, element: ET.Element) -> list[tuple[Fraction, Swell | None]]:
    kind = element.get("type", "")
    return [(at, None)] if kind == "stop" else [(at, swell)] if (swell := swell_in_words(kind)) else []


def _barline(element: ET.Element, measure: ScoreMeasure, walk: _Walk) -> None:
    """Read where a passage opens or closes."""
    repeat = element.find("repeat")
    direction = None if repeat is None else repeat.get("direction")
    if element.find("ending") is not None:
        walk.reading.warn("first and second endings stand one after the other")
    for child in element:
        if child.tag not in {"bar-style", "repeat", "ending", "footnote", "level"}:
            walk.reading.warn(f"{spoken(child.tag)} was left out")
    if element.get("location", "right") == "right":
        measure.closes |= direction == "backward" or text_of(element, "bar-style") in CLOSING_BARS
    elif element.get("location") == "left":
        measure.opens |= direction == "forward"


_DIRECTIONS = {"rehearsal", "words", "dynamics", "metronome"}
_READERS = {
    "attributes": _attributes,
    "note": _note,
    "backup": _backup,
    "forward": _forward,
    "direction": _direction,
    "barline": _barline,
}
