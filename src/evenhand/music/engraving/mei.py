"""Exercise -> MEI (the Music Encoding Initiative's XML, version 5).

One percussion staff of one line. Every note and rest has the id ``note-<position>``,
a grace note ``grace-<position>-<k>``, a rest that fills up a note ``fill-<position>-<k>``;
whoever draws the music finds each place by it. (The hyphen keeps them apart from ids
that an engraver makes up.)
"""

from __future__ import annotations

from collections.abc import Mapping
from itertools import pairwise
from types import MappingProxyType

from evenhand.music.engraving.notation import (
    Group,
    NoteShape,
    Ratio,
    bars_of,
    beams_of,
    groups_of,
    has_head,
    parted_of,
    ratio_of,
    shape_at,
    shapes_of,
    signs_at,
)
from evenhand.music.exercise import ALL_MARKS, WRITTEN_OUT, Exercise, Hand, Tempo, check_marks

_HEAD = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<mei xmlns="http://www.music-encoding.org/ns/mei" meiversion="5.0">'
    "<meiHead><fileDesc><titleStmt><title>Exercise</title></titleStmt><pubStmt/></fileDesc></meiHead>"
    "<music><body><mdiv><score><scoreDef{meter}><staffGrp>"
    '<staffDef n="1" lines="1" clef.shape="perc"/></staffGrp></scoreDef><section>'
)
_TAIL = "</section></score></mdiv></body></music></mei>\n"
_NONE: Mapping[int, int] = MappingProxyType({})
_PLACE = 'loc="0" stem.dir="up"'


def to_mei(
    exercise: Exercise,
    *,
    repeat: int | None = None,
    tempo: Tempo | None = None,
    slashes: Mapping[int, int] = _NONE,
) -> str:
    """Write an exercise as MEI.

    Parameters
    ----------
    exercise : Exercise
        With at least one note, all values above 0.
    repeat : int, optional
        How often it is played, said in words over the last note; 1 leaves the repeat signs out.
    tempo : Tempo, optional
        Written over the first note.
    slashes : mapping of position to int
        Notes with so many slashes through the stem.
    """
    check_marks(exercise, ALL_MARKS - WRITTEN_OUT - {"held notes", "ties"}, "MEI")
    edges = (*bars_of(exercise), len(exercise.notes))
    groups = groups_of(exercise)
    parts = [_HEAD.format(meter=_meter(exercise))]
    at = 0
    for number, (first, stop) in enumerate(pairwise(edges), start=1):
        is_last = stop == len(exercise.notes)
        parts.append(f'<measure n="{number}"{_ends(repeat, opens=first == 0, closes=is_last)}>')
        parts.append('<staff n="1"><layer n="1">')
        while at < len(groups) and groups[at].start < stop:
            parts.append(_group(exercise, groups[at], slashes))
            at += 1
        parts.append("</layer></staff>")
        parts.append(_tempo(tempo) if tempo and first == 0 else "")
        parts.append(_times(repeat, stop - 1) if is_last else "")
        parts.append("</measure>")
    parts.append(_TAIL)
    return "".join(parts)


def _ends(repeat: int | None, *, opens: bool, closes: bool) -> str:
    """Write a measure's bar lines where they are not plain."""
    if repeat == 1:
        return ' right="end"' if closes else ""
    return (' left="rptstart"' if opens else "") + (' right="rptend"' if closes else "")


def _times(repeat: int | None, last: int) -> str:
    """Say how often it is played."""
    if repeat is None or repeat < 2:
        return ""
    return f'<dir startid="#note-{last}" place="above">× {repeat}</dir>'


def _tempo(tempo: Tempo) -> str:
    """Write the tempo, for readers and for players; a beat that no note shows is said in words."""
    shapes = shapes_of(tempo.beat)
    words = f"{tempo}"
    if len(shapes) > 1 or ratio_of(tempo.beat).num > 1:
        quarters = f"{tempo.bpm * float(tempo.beat) * 4:g}"
        return f'<tempo tstamp="1" place="above" midi.bpm="{quarters}">{words}</tempo>'
    dots = f' mm.dots="{shapes[0].dots}"' if shapes[0].dots else ""
    unit = f'mm="{tempo.bpm:g}" mm.unit="{shapes[0].base or "breve"}"{dots}'
    return f'<tempo tstamp="1" place="above" {unit}>{words}</tempo>'


def _meter(exercise: Exercise) -> str:
    meter = exercise.meter
    return f' meter.count="{meter.beats}" meter.unit="{meter.unit}"' if meter else ""


def _group(exercise: Exercise, group: Group, slashes: Mapping[int, int]) -> str:
    beams = beams_of(exercise, group)
    opens, closes = {first for first, _ in beams}, {last for _, last in beams}
    parted = parted_of(exercise, beams)
    parts: list[str] = []
    for position in range(group.start, group.stop):
        note = exercise.notes[position]
        parts.append(_graces(position, note.graces))
        parts.append("<beam>" if position in opens else "")
        tie = _tie(exercise, position)
        parts.append(_note(exercise, position, slashes.get(position), parted=position in parted, tie=tie))
        parts.append("</beam>" if position in closes else "")
        parts.append(_left_over(exercise, position))
    inner = "".join(parts)
    if group.ratio == Ratio():
        return inner
    bracket = "false" if beams == ((group.start, group.stop - 1),) else "true"
    attributes = f'num="{group.ratio.num}" numbase="{group.ratio.base}" bracket.visible="{bracket}"'
    return f'<tuplet {attributes} num.place="above" bracket.place="above">{inner}</tuplet>'


def _tie(exercise: Exercise, position: int) -> str:
    """Write where a tie begins, goes on or ends."""
    after = exercise.notes[position + 1 : position + 2]
    on = exercise.notes[position].tied or any(note.held for note in after)
    back = exercise.notes[position].held or (position > 0 and exercise.notes[position - 1].tied)
    kind = {(True, False): "i", (True, True): "m", (False, True): "t"}.get((on, back))
    return f' tie="{kind}"' if kind else ""


def _note(exercise: Exercise, position: int, slashes: int | None, *, parted: bool, tie: str) -> str:
    note, shape = exercise.notes[position], shape_at(exercise, position)
    if not has_head(note):
        return f'<rest xml:id="note-{position}" {_shape(shape)} loc="0"/>'
    stem = ' stem.mod="z"' if note.buzz else f' stem.mod="{slashes}slash"' if slashes else ""
    accent = '<artic artic="acc" place="above"/>' if note.accent else ""
    verse = f'<verse n="1"><syl>{note.hand}</syl></verse>' if note.hand else ""
    part = ' breaksec="1"' if parted else ""
    opening = f'<note xml:id="note-{position}" {_shape(shape)} {_PLACE}{stem}{part}{tie}'
    return f"{opening}>{accent}{verse}</note>"


def _graces(position: int, graces: tuple[Hand, ...]) -> str:
    """Write a flam as a slashed eighth, a drag or ruff as beamed sixteenths."""
    if not graces:
        return ""
    if len(graces) == 1:
        return f'<note xml:id="grace-{position}-0" grace="unacc" dur="8" stem.mod="1slash" {_PLACE}/>'
    notes = "".join(
        f'<note xml:id="grace-{position}-{k}" grace="unacc" dur="16" {_PLACE}/>' for k in range(len(graces))
    )
    return f"<graceGrp><beam>{notes}</beam></graceGrp>"


def _left_over(exercise: Exercise, position: int) -> str:
    """Write as rests what no single note value holds."""
    rests = enumerate(signs_at(exercise, position)[1:], start=1)
    return "".join(f'<rest xml:id="fill-{position}-{k}" {_shape(shape)} loc="0"/>' for k, shape in rests)


def _shape(shape: NoteShape) -> str:
    dots = f' dots="{shape.dots}"' if shape.dots else ""
    return f'dur="{shape.base or "breve"}"{dots}'
