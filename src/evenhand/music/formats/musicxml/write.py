"""Exercise -> MusicXML 4.0, for other programs.

One unpitched part on one line. MusicXML has no sticking of its own: the letters are lyrics, which keep one
baseline (line 1 the hands, small letters under graces; line 2 the strokes, where asked for). The same
exercise gives the same bytes.

What joins neighbouring notes in MusicXML: beams and tuplets, sign by sign.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from xml.sax.saxutils import escape

from evenhand.music.engraving.notation import (
    Group,
    Ratio,
    beam_parts,
    beams_of,
    groups_of,
    ratio_of,
    shapes_of,
    struck_in,
)
from evenhand.music.exercise import Exercise, Hand, Meter, Note, Tempo
from evenhand.music.formats.musicxml.bars import ScoreBars, score_bars
from evenhand.music.formats.musicxml.tree import TYPES
from evenhand.music.formats.velocities import (
    BASS_DRUM,
    PEDAL_HI_HAT,
    RIM,
    SIDE_STICK,
    SNARE,
    drum_note_of,
    dynamics_of,
    velocities_of,
    velocity_of,
)
from evenhand.music.text import print_exercise


@dataclass(frozen=True, slots=True)
class Sign:
    """The elements that one note takes for its beams and its tuplet."""

    beams: str = ""
    time_modification: str = ""
    tuplets: tuple[str, ...] = ()


def signs_of(written: Exercise) -> tuple[Sign, ...]:
    """Return the beams and tuplets of each note; each must be a single sign."""
    signs: list[Sign] = []
    for group in groups_of(written):
        beams = beams_of(written, group)
        states = _beam_states(written, beams)
        bracket = beams != ((group.start, group.stop - 1),)
        for at in range(group.start, group.stop):
            tuplets = _tuplets(group, at, bracket=bracket)
            signs.append(Sign(states.get(at, ""), _time_modification(group.ratio), tuplets))
    return tuple(signs)


def _time_modification(ratio: Ratio) -> str:
    if ratio.num == 1:
        return ""
    return (
        f"<time-modification><actual-notes>{ratio.num}</actual-notes>"
        f"<normal-notes>{ratio.base}</normal-notes></time-modification>"
    )


def _tuplets(group: Group, at: int, *, bracket: bool) -> tuple[str, ...]:
    """Write where a tuplet's number begins and ends; a lone note has none."""
    if group.ratio.num == 1 or group.stop - group.start == 1:
        return ()
    if at == group.start:
        shown = "yes" if bracket else "no"
        return (f'<tuplet type="start" number="1" bracket="{shown}" placement="above"/>',)
    return ('<tuplet type="stop" number="1"/>',) if at == group.stop - 1 else ()


def _beam_states(written: Exercise, beams: tuple[tuple[int, int], ...]) -> dict[int, str]:
    """Write the beams of the struck notes under each beam; a rest inside takes none."""
    states: dict[int, str] = defaultdict(str)
    for span in beams:
        for beam in beam_parts(written, *span, over_rests=False):
            for at in struck_in(written, beam.first, beam.last):
                state = "begin" if at == beam.first else "end" if at == beam.last else "continue"
                if beam.hook:
                    state = "forward hook" if beam.hook > 0 else "backward hook"
                states[at] += f'<beam number="{beam.level + 1}">{state}</beam>'
    return states


TEXT_FIELD = "evenhand-exercise"  # where a file of ours keeps its exercise as text
_HEAD = (
    '<?xml version="1.0" encoding="UTF-8" standalone="no"?>\n'
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN"'
    ' "http://www.musicxml.org/dtds/partwise.dtd">\n'
    '<score-partwise version="4.0">\n'
)
_ON_THE_LINE = (  # the lowest line in a percussion clef, here the only one
    "<unpitched><display-step>E</display-step><display-octave>4</display-octave></unpitched>"
)
_UNDER_THE_LINE = _ON_THE_LINE.replace(">E<", ">D<")
_INSTRUMENTS = {  # by General MIDI's notes: id and name
    SNARE: ("P1-I1", "Snare drum"),
    SIDE_STICK: ("P1-I2", "Side stick"),
    RIM: ("P1-I3", "Rim"),
    BASS_DRUM: ("P1-I4", "Bass drum"),
    PEDAL_HI_HAT: ("P1-I5", "Pedal hi-hat"),
}


def _instrument(midi_note: int) -> str:
    return f'<instrument id="{_INSTRUMENTS[midi_note][0]}"/>'


def _parts(exercise: Exercise) -> str:
    """Write who wrote it and the instruments; where notation says not all, the exercise's text beside it."""
    text = ""
    if exercise.marks:
        said = escape(print_exercise(exercise))
        field = f'<miscellaneous-field name="{TEXT_FIELD}">{said}</miscellaneous-field>'
        text = f"<miscellaneous>{field}</miscellaneous>"
    sounding = {SNARE, *map(drum_note_of, exercise.notes)}
    played = [(*called, note) for note, called in _INSTRUMENTS.items() if note in sounding]
    names = "".join(
        f'<score-instrument id="{one}"><instrument-name>{name}</instrument-name></score-instrument>'
        for one, name, _ in played
    )
    sounds = "".join(
        f'<midi-instrument id="{one}"><midi-channel>10</midi-channel>'
        f"<midi-unpitched>{note + 1}</midi-unpitched></midi-instrument>"  # MusicXML counts them from 1
        for one, _, note in played
    )
    return (
        f"<identification><encoding><software>Evenhand</software></encoding>{text}</identification>\n"
        f'<part-list><score-part id="P1"><part-name>Snare drum</part-name>{names}{sounds}'
        "</score-part></part-list>\n"
        '<part id="P1">\n'
    )


_TAIL = "</part>\n</score-partwise>\n"


def to_musicxml(
    exercise: Exercise,
    *,
    tempo: Tempo | None = None,
    title: str = "",
    repeat: int | None = None,
    strokes: Mapping[int, str] | None = None,
) -> str:
    """Write an exercise as MusicXML.

    Parameters
    ----------
    exercise : Exercise
        With at least one note, all values above 0.
    tempo : Tempo, optional
        Written as a metronome mark, and for playing in quarter notes a minute.
    repeat : int, optional
        How often it is played; 1 leaves the repeat signs out, None leaves the number out.
    strokes : mapping of int to str, optional
        A letter for each position, written as a second line under the hands.
    """
    bars = score_bars(exercise)
    divisions = math.lcm(*((note.value * 4).denominator for note in bars.written.notes))
    signs = signs_of(bars.written)
    spans = bars.spans()
    loud, swells = velocities_of(exercise), swells_of(bars)
    parts = [_HEAD, _title(title), _parts(exercise)]
    holds = bars.time
    for number, (first, stop) in enumerate(spans, start=1):
        last = number == len(spans)
        holds = bars.meters.get(first, holds)
        parts.append(_measure_start(bars, number, first, stop, holds))
        if first in bars.meters:
            parts.append(f"<attributes>{_time(holds, shown=True)}</attributes>\n")
        if number == 1:
            parts += [_attributes(bars, divisions), _opening(repeat), _tempo(tempo)]
        for at in range(first, stop):
            letter = (strokes or {}).get(bars.origin[at], "")
            parts += _directions(bars, at, swells)
            parts += _piece(bars, at, signs[at], divisions, letter, loud[bars.origin[at]])
        parts += _swell_ends(swells, stop) if last else ()
        parts += [_closing(repeat) if last else "", "</measure>\n"]
    return "".join([*parts, _TAIL])


def _title(title: str) -> str:
    """Write the title, without what XML cannot hold."""
    plain = " ".join("".join(char if char.isprintable() else " " for char in title).split())
    return f"<movement-title>{escape(plain)}</movement-title>\n" if plain else ""


def _measure_start(bars: ScoreBars, number: int, first: int, stop: int, holds: Meter | None) -> str:
    """Open a measure; one that is not as long as its time says is marked so."""
    regular = holds is None or bars.length(first, stop) == holds.bar
    implicit = "" if regular else ' implicit="yes"'
    return f'<measure number="{number}"{implicit}>\n'


def _attributes(bars: ScoreBars, divisions: int) -> str:
    clef = "<clef><sign>percussion</sign></clef>"
    lines = "<staff-details><staff-lines>1</staff-lines></staff-details>"
    key = "<key><fifths>0</fifths></key>"
    time = _time(bars.time, shown=bars.time_shown)
    return f"<attributes><divisions>{divisions}</divisions>{key}{time}{clef}{lines}</attributes>\n"


def _time(time: Meter | None, *, shown: bool) -> str:
    if time is None:
        return "<time><senza-misura/></time>"
    hidden = "" if shown else ' print-object="no"'
    return (
        f"<time{hidden}><beats>{str(time).partition('/')[0]}</beats><beat-type>{time.unit}</beat-type></time>"
    )


def _opening(repeat: int | None) -> str:
    if repeat == 1:
        return ""
    return (
        '<barline location="left"><bar-style>heavy-light</bar-style><repeat direction="forward"/></barline>\n'
    )


def _closing(repeat: int | None) -> str:
    """Write the end: how often, in words and for playing, and the repeat sign."""
    words = times = ""
    sign = '<repeat direction="backward"{times}/>'
    if repeat == 1:
        sign = ""
    elif repeat is not None:
        times = f' times="{repeat}"'
        words = (
            '<direction placement="above"><direction-type>'
            f'<words halign="right">× {repeat}</words></direction-type></direction>\n'
        )
    end = (
        f'<barline location="right"><bar-style>light-heavy</bar-style>{sign.format(times=times)}</barline>\n'
    )
    return words + end


def _tempo(tempo: Tempo | None) -> str:
    """Write the tempo as a mark, or in words where no note has the beat's length."""
    if tempo is None:
        return ""
    shapes = shapes_of(tempo.beat)
    if len(shapes) == 1 and ratio_of(tempo.beat).num == 1 and shapes[0].length == tempo.beat:
        dots = "<beat-unit-dot/>" * shapes[0].dots
        mark = (
            f"<metronome><beat-unit>{TYPES[shapes[0].base]}</beat-unit>{dots}"
            f"<per-minute>{_decimal(tempo.bpm)}</per-minute></metronome>"
        )
    else:
        beat = f"{tempo.beat.numerator}/{tempo.beat.denominator}"
        mark = f"<words>{beat} = {_decimal(tempo.bpm)}</words>"
    quarters = _decimal(tempo.bpm * float(tempo.beat) * 4)
    sound = f'<sound tempo="{quarters}"/>'
    return f'<direction placement="above"><direction-type>{mark}</direction-type>{sound}</direction>\n'


def _decimal(number: float) -> str:
    return f"{number:.6f}".rstrip("0").rstrip(".")


def swells_of(bars: ScoreBars) -> Mapping[int, int]:
    """Return where each swell ends, by the piece where it begins."""
    notes = bars.written.notes
    marked = [at for at, note in enumerate(notes) if note.dynamic or note.swell]
    return {at: end for at, end in pairwise([*marked, len(notes)]) if notes[at].swell}


def _directions(bars: ScoreBars, at: int, swells: Mapping[int, int]) -> Iterator[str]:
    """Write a dynamic, and where swells end and begin."""
    note = bars.written.notes[at]
    yield from _swell_ends(swells, at)
    if note.dynamic:
        yield _direction(f"<dynamics><{note.dynamic}/></dynamics>")
    if note.swell:
        yield _direction(
            f'<wedge type="{"crescendo" if note.swell == "cresc" else "diminuendo"}" number="1"/>'
        )


def _swell_ends(swells: Mapping[int, int], at: int) -> Iterator[str]:
    if at in swells.values():
        yield _direction('<wedge type="stop" number="1"/>')


def _direction(kind: str) -> str:
    return f'<direction placement="below"><direction-type>{kind}</direction-type></direction>\n'


def _piece(bars: ScoreBars, at: int, sign: Sign, divisions: int, letter: str, velocity: int) -> Iterator[str]:
    """Write one sign, and before it its graces."""
    note = bars.written.notes[at]
    for k, hand in enumerate(note.graces):
        yield _grace(hand, k, len(note.graces))
    duration = f"<duration>{note.value * 4 * divisions}</duration>"
    shape = shapes_of(note.value)[0]
    kind = f"<type>{TYPES[shape.base]}</type>{'<dot/>' * shape.dots}{sign.time_modification}"
    if bars.is_rest(at):
        tuplets = _notations(*sign.tuplets)
        yield f"<note><rest/>{duration}<voice>1</voice>{kind}{tuplets}</note>\n"
        return
    back, on = bars.tied_back(at), bars.tied_on(at)
    ties = ('<tie type="stop"/>' if back else "") + ('<tie type="start"/>' if on else "")
    lyrics = "" if bars.goes_on(at) else _lyric(1, _letter(note)) + (_lyric(2, letter) if letter else "")
    place = _UNDER_THE_LINE if note.sound == "foot" else _ON_THE_LINE
    yield (
        f'<note dynamics="{dynamics_of(velocity)}">{place}{duration}{ties}{_instrument(drum_note_of(note))}'
        f"<voice>1</voice>{kind}<stem>up</stem>{_head(note)}{sign.beams}"
        f"{_notations(*_signs_on(note, back=back, on=on), *sign.tuplets)}{lyrics}</note>\n"
    )


def _letter(note: Note) -> str:
    """Return the letter under a note: B for both hands at once."""
    return "B" if note.both else note.hand or ""


def _head(note: Note) -> str:
    """Write a head that is no plain one."""
    kind = {"cross": "x", "rim": "circle-x"}.get(note.sound, "normal")
    brackets = ' parentheses="yes"' if note.ghost else ""
    return f"<notehead{brackets}>{kind}</notehead>" if brackets or kind != "normal" else ""


def _signs_on(note: Note, *, back: bool, on: bool) -> Iterator[str]:
    """Write ties, buzz and accent as they are drawn."""
    if back:
        yield '<tied type="stop"/>'
    if on:
        yield '<tied type="start"/>'
    if note.buzz:
        yield '<ornaments><tremolo type="unmeasured">0</tremolo></ornaments>'
    if note.strong:
        yield '<articulations><strong-accent type="up" placement="above"/></articulations>'
    elif note.accent:
        yield '<articulations><accent placement="above"/></articulations>'


def _notations(*signs: str) -> str:
    return f"<notations>{''.join(signs)}</notations>" if signs else ""


def _grace(hand: Hand, k: int, count: int) -> str:
    """Write a flam's grace as an eighth, a drag's as beamed sixteenths; slashed, to be played short."""
    kind, beams = "eighth", ""
    if count > 1:
        state = "begin" if k == 0 else "end" if k == count - 1 else "continue"
        kind, beams = "16th", "".join(f'<beam number="{level}">{state}</beam>' for level in (1, 2))
    loud = dynamics_of(velocity_of("grace"))
    return (
        f'<note dynamics="{loud}"><grace slash="yes"/>{_ON_THE_LINE}{_instrument(SNARE)}<voice>1</voice>'
        f"<type>{kind}</type><stem>up</stem>{beams}{_lyric(1, hand.lower())}</note>\n"
    )


def _lyric(line: int, text: str) -> str:
    name = "sticking" if line == 1 else "strokes"
    return (
        f'<lyric number="{line}" name="{name}"><syllabic>single</syllabic><text>{escape(text)}</text></lyric>'
    )
