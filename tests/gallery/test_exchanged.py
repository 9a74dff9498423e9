"""The hard exercises as MusicXML: valid, read by two independent readers, and back.

Whose: the W3C's MusicXML 4.0 schema, as the package musicxml (MIT) ships it, checked by lxml; music21
(BSD-3-Clause) reads and writes MusicXML; verovio (LGPL-3.0) imports it and says when each note sounds.
Lengths are exact.
"""

from __future__ import annotations

import warnings
from dataclasses import replace
from fractions import Fraction
from functools import cache
from importlib.resources import files
from typing import Any
from xml.etree import ElementTree as ET

import pytest

from evenhand.music.exercise import Exercise, Tempo
from evenhand.music.formats.musicxml.read import read_musicxml
from evenhand.music.formats.musicxml.write import to_musicxml
from tests.depth import LAWS
from tests.gallery.book import hard_exercises

MEI = "{http://www.music-encoding.org/ns/mei}"
XML_ID = "{http://www.w3.org/XML/1998/namespace}id"
GRACE_QUARTERS = 0.05859375  # how much later verovio plays a note for each grace that opens a bar


@cache
def scores() -> list[tuple[str, Exercise, str]]:
    """Return each exercise's title, itself, and its MusicXML."""
    return [(each.title, each.exercise, to_musicxml(each.exercise)) for each in hard_exercises()]


@pytest.fixture(scope="module")
def schema() -> Any:
    """Give the MusicXML 4.0 schema; of the two schemas it imports, what it names of them."""
    etree = pytest.importorskip("lxml.etree")
    pytest.importorskip("musicxml", reason="the package that ships the schema")
    head = '<xs:schema xmlns:xs="http://www.w3.org/2001/XMLSchema" targetNamespace="http://www.w3.org/'
    xml = f'{head}XML/1998/namespace"><xs:attribute name="lang" type="xs:language"/>'
    xml += '<xs:attribute name="space" type="xs:NCName"/></xs:schema>'
    names = ("href", "type", "role", "title", "show", "actuate")
    links = "".join(f'<xs:attribute name="{name}" type="xs:string"/>' for name in names)
    known = {"xml.xsd": xml, "xlink.xsd": f'{head}1999/xlink">{links}</xs:schema>'}

    class Known(etree.Resolver):  # type: ignore[misc, name-defined]
        def resolve(self, url: str, _: Any, context: Any) -> Any:
            return self.resolve_string(known[url.rpartition("/")[2]], context)

    parser = etree.XMLParser(no_network=True)
    parser.resolvers.add(Known())
    text = (files("musicxml") / "generate_classes" / "musicxml_4_0.xsd").read_bytes()
    assert b"MusicXML W3C XML schema" in text
    return etree.XMLSchema(etree.fromstring(text, parser))


def test_the_w3cs_schema_finds_nothing_wrong(schema: Any) -> None:
    etree = pytest.importorskip("lxml.etree")
    strokes = dict.fromkeys(range(4), "D")
    wrong = {}
    for title, exercise, xml in scores():
        asked = to_musicxml(
            exercise, tempo=Tempo.parse("3/8=60"), repeat=len(title) % 3 + 1, title=title, strokes=strokes
        )
        for written in (xml, asked):
            if not schema.validate(etree.fromstring(written.encode())):
                wrong[title] = str(schema.error_log.last_error)
    assert wrong == {}
    for there, broken in (("duration>", "length>"), ("display-step>", "step>"), (">percussion<", ">drum<")):
        assert there in xml
        assert not schema.validate(etree.fromstring(xml.replace(there, broken).encode())), there


def test_all_come_back_as_they_were() -> None:
    """Without a meter and bar lines a file has bars of whole notes, which come back as bar lines."""
    for title, exercise, xml in scores():
        (entry,) = read_musicxml(xml.encode()).entries
        bare = exercise.meter is None and not exercise.bar_lines
        got = replace(entry.exercise, bar_lines=()) if bare else entry.exercise
        assert got == exercise, title


Held = tuple[Fraction, str, bool, bool, bool, tuple[str, ...]]


def held_of(exercise: Exercise) -> list[Held]:
    """Return what both readers hold of each note: when, whose, both hands', an accent, a buzz, its graces."""
    first = exercise.starts[exercise.struck[0]]
    return [
        (exercise.starts[at] - first, note.hand or "", note.both, note.accent, note.buzz, note.graces)
        for at in exercise.struck
        for note in (exercise.notes[at],)
    ]


def test_music21_reads_and_writes_the_same() -> None:
    """The hardest thirty, and all of them in the long run."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        music21 = pytest.importorskip("music21")
        for title, exercise, xml in scores() if LAWS == "deep" else scores()[:30]:
            score = music21.converter.parseData(xml, format="musicxml")
            written = music21.musicxml.m21ToXml.GeneralObjectExporter(score).parse()
            (entry,) = read_musicxml(written).entries
            assert held_of(entry.exercise) == held_of(exercise), title


def test_verovio_reads_the_same_letters_and_times() -> None:
    import verovio

    toolkit = verovio.toolkit(False)  # noqa: FBT003 - its own name for "without a font path"
    toolkit.setResourcePath(str(files("verovio") / "data"))
    for title, exercise, xml in scores():
        assert toolkit.loadData(xml), title
        notes = list(ET.fromstring(toolkit.getMEI()).iter(f"{MEI}note"))
        letters = ["".join(each.itertext()) for note in notes for each in note.iter(f"{MEI}syl")]
        wanted = [(exercise.notes[at], float(exercise.starts[at] * 4)) for at in exercise.struck]
        assert letters == [
            letter
            for note, _ in wanted
            for letter in (*(grace.lower() for grace in note.graces), "B" if note.both else note.hand)
        ], title
        sounds = {name: each["qstamp"] for each in toolkit.renderToTimemap() for name in each.get("on", ())}
        heads = [
            note for note in notes if note.get("grace") is None and note.find(f".//{MEI}syl") is not None
        ]
        for head, (note, start) in zip(heads, wanted, strict=True):
            late = sounds[head.get(XML_ID)] - start
            assert min(abs(late), abs(late - GRACE_QUARTERS * len(note.graces))) < 0.001, (title, start)
