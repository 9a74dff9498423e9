"""What is no score, or no score for hands, gets one clear line."""

from __future__ import annotations

import pytest

from evenhand.errors import UnreadableScore
from evenhand.music.formats.musicxml.read import read_musicxml
from tests.score_files import a_note, a_rest, a_score, attributes, notes

BOMB = (
    '<!DOCTYPE score-partwise [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">'
    '<!ENTITY c "&b;&b;&b;&b;&b;&b;&b;&b;&b;&b;">]>'
)
OUTSIDE = '<!DOCTYPE score-partwise [<!ENTITY x SYSTEM "file:///etc/hostname">]>'
PIANO = attributes(clef="<clef><sign>G</sign></clef>") + a_note(
    16, "whole", pitch="<pitch><step>C</step><octave>4</octave></pitch>"
)


def refusal(content: bytes) -> str:
    with pytest.raises(UnreadableScore) as refused:
        read_musicxml(content, name="x.musicxml")
    assert "\n" not in str(refused.value)
    return str(refused.value)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no XML that can be read (it breaks off in line 1)"),
        (b"just words", "no XML that can be read (line 1: syntax error)"),
        (
            a_score(attributes() + notes("RLRL", 4))[:-30],
            "no XML that can be read (it breaks off in line 1)",
        ),
        (b"<html><body/></html>", "XML, but no MusicXML score (it holds <html>)"),
        (a_score(notes("RL"), doctype=BOMB), "XML that defines entities of its own, as no score does"),
        (a_score(notes("RL"), doctype=OUTSIDE), "XML that defines entities of its own, as no score does"),
        (b"<a>" * 100, "XML that is nested or filled beyond what a score needs"),
        (b'<?xml version="1.0" encoding="klingon"?><a/>', "no XML that can be read"),
        (b'<score-partwise version="4.0"/>', "a score without parts"),
        (a_score(PIANO, name="Piano"), "no percussion part and no stickings in it, only 'Piano'"),
        (a_score(attributes() + a_rest(16)), "the part 'Snare' has no struck notes"),
        (
            a_score(attributes(97) + a_note(1, "", "R")),
            "measure 1 has a length of 1/388 of a whole note",
        ),
    ],
)
def test_refusals(content: bytes, said: str) -> None:
    message = refusal(content)
    assert message.startswith(f"x.musicxml: {said}")


def test_an_entity_from_a_bomb_never_grows() -> None:
    """The bomb is used in the score, too; it must not be in what is read, nor take long."""
    content = a_score(notes("RL"), title="&c;", doctype=BOMB)
    assert "entities of its own" in refusal(content)


def test_lengths_that_fit_nowhere_end_the_reading() -> None:
    """Each bar counts in another large number, so that a sum of lengths could grow without end."""
    bars = [attributes(1_000_003 + 2 * k) + a_note(1, "", "R") for k in range(200)]
    assert "of a whole note" in refusal(a_score(*bars))


def test_too_long_a_passage_is_cut_and_said() -> None:
    bar = notes("RL" * 8)
    score = read_musicxml(a_score(attributes() + bar, *[bar] * 299))
    assert len(score.entries[0].exercise.notes) == 4096
    assert score.warnings == ("only the first 4,096 notes and rests of a passage were taken over",)
