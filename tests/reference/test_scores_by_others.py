"""Our files read by independent readers, and files of an independent writer read by us.

Whose: music21 (BSD-3-Clause) reads and writes MusicXML; verovio (LGPL-3.0) imports it; mido (MIT) reads and
writes Standard MIDI Files. Lengths are exact; MIDI's are to half a tick.
"""

from __future__ import annotations

import io
import warnings
from fractions import Fraction
from importlib.resources import files
from typing import Any

import mido
import pytest

from evenhand.music.exercise import Tempo
from evenhand.music.formats.midi.read import read_midi_score
from evenhand.music.formats.midi.strokes import HandNotes
from evenhand.music.formats.midi.write import to_midi
from evenhand.music.formats.musicxml.read import read_musicxml
from evenhand.music.formats.musicxml.write import to_musicxml
from evenhand.music.text import parse_exercise, print_exercise

MIXED = "4/4 1/16: >RLRR lRLRL 1/12: RLR 3/16: L 1/16: R | 1/8: R~ L - llR 5/16: R 3/16: -"
BOOK = (
    MIXED,
    "1/8: RLRR LRLL",
    "6/8 1/8: RLR LRL 1/16: RLRLRL 1/12: RLR 1/8: L",
    "1/24: RLRLRL 1/20: RLRLR 1/28: RLRLRLR",
    "3/4 1/4: RL 1/2: R 1/4: LRL",
    "1/9: RLR 1/3: LR",
    "1/32: RRLLRRLL 1/4: R~ - 1/8: >lR >rL",
)


@pytest.fixture(scope="module")
def music21() -> Any:
    """Give music21, whose own warnings are not ours to mend."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("music21")


def read_by_music21(music21: Any, text: str, **wishes: Any) -> Any:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return music21.converter.parseData(to_musicxml(parse_exercise(text), **wishes), format="musicxml")


@pytest.mark.parametrize("text", BOOK)
def test_music21_reads_the_same_lengths_hands_and_signs(music21: Any, text: str) -> None:
    exercise = parse_exercise(text)
    found: list[tuple[Fraction, str, bool, bool, list[str]]] = []
    graces: list[str] = []
    for note in read_by_music21(music21, text).parts[0].flatten().notesAndRests:
        length = Fraction(note.quarterLength) / 4
        letter = note.lyrics[0].text if note.lyrics else ""
        if note.duration.isGrace:
            graces.append(letter)
        elif note.tie is not None and note.tie.type != "start":
            found[-1] = (found[-1][0] + length, *found[-1][1:])
        else:
            accent = any(isinstance(each, music21.articulations.Accent) for each in note.articulations)
            buzz = any(isinstance(each, music21.expressions.Tremolo) for each in note.expressions)
            found.append((length, letter, accent, buzz, graces))
            graces = []
    struck = [each for each in found if each[1]]
    assert struck == [
        (note.value, note.hand, note.accent, note.buzz, [grace.lower() for grace in note.graces])
        for note in exercise.notes
        if note.hand
    ]
    assert sum(each[0] for each in found) == exercise.length


def test_music21_reads_the_part_its_drum_the_tempo_and_the_repeat(music21: Any) -> None:
    score = read_by_music21(
        music21, "4/4 1/8: RLRRLRLL", tempo=Tempo.parse("3/8=60"), repeat=8, title="Single"
    )
    part = score.parts[0]
    assert score.metadata.movementName == "Single"
    assert (part.getInstrument().percMapPitch, part.getInstrument().midiChannel) == (38, 9)  # from 0
    mark = part.flatten().getElementsByClass(music21.tempo.MetronomeMark)[0]
    assert (mark.number, mark.referent.quarterLength) == (60, 1.5)
    assert (part.measure(1).rightBarline.direction, part.measure(1).rightBarline.times) == ("end", 8)
    velocities = {note.volume.velocity for note in read_by_music21(music21, "1/8: >RL").flatten().notes}
    assert velocities == {123, 68}  # 9 dB apart by the square law, as test_midi_velocity.py works out


@pytest.mark.parametrize("text", BOOK)
def test_verovio_imports_it_without_a_warning(text: str, capfd: pytest.CaptureFixture[str]) -> None:
    import verovio

    toolkit = verovio.toolkit(False)  # noqa: FBT003 - its own name for "without a font path"
    toolkit.setResourcePath(str(files("verovio") / "data"))
    assert toolkit.loadData(to_musicxml(parse_exercise(text), tempo=Tempo.parse("1/4=90"), repeat=4))
    said = capfd.readouterr()
    assert (said.out, said.err) == ("", "")
    mei = toolkit.getMEI()
    assert 'pnum="38"' in mei  # the MIDI note, which MusicXML says as 39
    assert mei.count("<syl ") == sum(1 + len(note.graces) for note in parse_exercise(text).notes if note.hand)


def written_by_music21(music21: Any, build: Any) -> bytes:
    """Let music21 write a percussion part that ``build`` fills."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        part = music21.stream.Part()
        part.append(music21.instrument.SnareDrum())
        part.append(music21.clef.PercussionClef())
        part.append(music21.meter.TimeSignature("4/4"))
        build(part)
        written: bytes = music21.musicxml.m21ToXml.GeneralObjectExporter(part).parse()
    return written


def test_what_music21_writes_with_lyrics_is_read(music21: Any) -> None:
    def build(part: Any) -> None:
        for letter in "RLRRLRLL":
            note = music21.note.Unpitched(quarterLength=0.5)
            note.lyric = letter
            part.append(note)
        for letter in "RLR":
            note = music21.note.Unpitched(quarterLength=Fraction(1, 3))
            note.lyric = letter
            part.append(note)
        part.append(music21.note.Rest(quarterLength=1))
        note = music21.note.Unpitched(quarterLength=2)
        note.lyric = "L"
        note.articulations.append(music21.articulations.Accent())
        part.append(note)

    score = read_musicxml(written_by_music21(music21, build))
    assert [print_exercise(entry.exercise) for entry in score.entries] == [
        "4/4 1/8: RLRR LRLL | 1/12: RLR 1/4: - 1/2: >L"
    ]


def test_what_music21_writes_with_fingerings_and_graces_is_read(music21: Any) -> None:
    def build(part: Any) -> None:
        for letter in "RLRL":
            grace = music21.note.Unpitched(quarterLength=0.5).getGrace()
            note = music21.note.Unpitched(quarterLength=1)
            note.articulations.append(music21.articulations.Fingering(letter))
            part.append(grace)
            part.append(note)

    score = read_musicxml(written_by_music21(music21, build))
    assert [print_exercise(entry.exercise) for entry in score.entries] == ["4/4 1/4: lR rL lR rL"]


@pytest.mark.parametrize("text", BOOK)
def test_mido_hears_every_blow_at_its_time(text: str) -> None:
    """Ticks of 1/1920 whole note; graces are left to the next test."""
    exercise = parse_exercise(text)
    midi = mido.MidiFile(file=io.BytesIO(to_midi(exercise, tempo=Tempo.parse("1/4=90"), repetitions=3)))
    assert (midi.type, midi.ticks_per_beat, len(midi.tracks)) == (0, 480, 1)
    at, letter, ons = 0, "", []
    for message in midi.tracks[0]:
        at += message.time
        if message.type == "lyrics":
            letter = message.text
        elif message.type == "note_on" and letter.upper() == letter:
            assert (message.channel, message.note) == (9, 38)
            ons.append((at, letter.strip(">~")))
    lead = 1920 if exercise.notes[0].graces else 0
    wanted = [
        (lead + float(1920 * (exercise.length * k + start)), note.hand)
        for k in range(3)
        for note, start in zip(exercise.notes, exercise.starts, strict=True)
        if note.hand
    ]
    assert [letter for _, letter in ons] == [letter for _, letter in wanted]
    assert max(abs(on - due) for (on, _), (due, _) in zip(ons, wanted, strict=True)) <= 0.5


def test_mido_hears_tempo_meter_and_a_flam_of_thirty_milliseconds() -> None:
    midi = mido.MidiFile(
        file=io.BytesIO(to_midi(parse_exercise("6/8 1/8: RlL"), tempo=Tempo.parse("1/4=90")))
    )
    tempos = [message.tempo for message in midi if message.type == "set_tempo"]
    meters = [(m.numerator, m.denominator) for m in midi if m.type == "time_signature"]
    assert tempos == [666_667]
    assert meters == [(6, 8)]
    at_s, ons = 0.0, []
    for message in midi:
        at_s += message.time
        if message.type == "note_on":
            ons.append((at_s, message.velocity))
    assert ons[2][0] - ons[1][0] == pytest.approx(0.030, abs=0.0007)  # half a tick at 90 is 0.69 ms
    assert ons[1][1] < ons[2][1]
    assert midi.length == pytest.approx(2 / 3, abs=1e-6)  # two eighths at 90 quarters a minute


def test_what_mido_writes_is_read() -> None:
    """A file of two tracks, the drums in the second, hands on two notes."""
    midi = mido.MidiFile(type=1, ticks_per_beat=96)
    conductor, drums = mido.MidiTrack(), mido.MidiTrack()
    midi.tracks.extend([conductor, drums])
    conductor.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(70)))
    conductor.append(mido.MetaMessage("time_signature", numerator=3, denominator=4))
    drums.append(mido.MetaMessage("track_name", name="Pads"))
    for letter, length in zip("RLRRLRLL", (48, 48, 32, 32, 32, 24, 24, 48), strict=True):
        note = 60 if letter == "R" else 61
        drums.append(mido.Message("note_on", channel=3, note=note, velocity=90))
        drums.append(mido.Message("note_off", channel=3, note=note, time=length))
    out = io.BytesIO()
    midi.save(file=out)
    score = read_midi_score(out.getvalue(), hand_notes=HandNotes(60, 61))
    assert [(entry.title, print_exercise(entry.exercise)) for entry in score.entries] == [
        ("Pads", "3/4 1/8: RL 1/12: RRL 1/16: RL 1/8: L")
    ]
    assert str(score.tempo) == "1/4 = 70"
