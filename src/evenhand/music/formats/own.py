"""Files of our own with marks that the readers of other programs' files do not take over.

Beside the music such a file holds its exercise as text. The text is believed where the music still is what is
written from it, note by note: whoever changed the notes in another program gets what the notes say.
"""

from __future__ import annotations

from contextlib import suppress
from xml.etree import ElementTree as ET

from evenhand.errors import BadExercise
from evenhand.music.exercise import Exercise
from evenhand.music.formats.midi.events import REPETITION, Events, read_events
from evenhand.music.formats.midi.write import TEXT_MARK, to_midi
from evenhand.music.formats.musicxml.write import TEXT_FIELD, to_musicxml
from evenhand.music.formats.passages import Reading
from evenhand.music.text import parse_exercise

SMALL = frozenset({"r", "l"})  # a grace's word: where it stands depends on the tempo


def exercise_in_score(root: ET.Element) -> Exercise | None:
    """Return the exercise that a score holds as text, where its notes are still those of it."""
    for field in root.iterfind("identification/miscellaneous/miscellaneous-field"):
        if field.get("name") == TEXT_FIELD and (exercise := _read(field.text or "")):
            written = ET.fromstring(to_musicxml(exercise))  # noqa: S314 - made here
            return exercise if _notes(root) == _notes(written) else None
    return None


def _notes(root: ET.Element) -> list[list[str]]:
    """Say each note and direction as its elements, without a second line of letters."""
    said = []
    for note in root.iterfind("part/measure/note"):
        kept = [child for child in note if not (child.tag == "lyric" and child.get("number") == "2")]
        said.append([ET.tostring(child, encoding="unicode").strip() for child in kept])
    marks = root.iterfind("part/measure/direction/direction-type")
    tags = [[each.tag, each[0].tag] for mark in marks for each in mark if len(each)]
    return [*said, *tags]


def exercise_in_midi(events: Events) -> Exercise | None:
    """Return the exercise that a MIDI file holds as text, where its notes are still those of it."""
    for _, text in events.words:
        if text.startswith(TEXT_MARK) and (exercise := _read(text.removeprefix(TEXT_MARK))):
            times = sum(marker.startswith(REPETITION) for _, marker in events.markers)
            made = read_events(to_midi(exercise, repetitions=max(times, 1)), Reading("made here"))
            return exercise if _blows(events) == _blows(made) else None
    return None


def _blows(events: Events) -> list[tuple[int, str, int, int]]:
    """Say each note with its word and its velocity, graces left out."""
    words = {tick: text for tick, text in events.words if text not in SMALL}
    return [(each.on, words[each.on], each.note, each.velocity) for each in events.notes if each.on in words]


def _read(text: str) -> Exercise | None:
    with suppress(BadExercise):
        return parse_exercise(text)
    return None
