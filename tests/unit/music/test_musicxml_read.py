"""Scores as other programs write them, read: stickings wherever they stand, and what is left out is said.

Every score here is written by hand after the MusicXML 4.0 reference; what must come out is read off it.
"""

from __future__ import annotations

import pytest

from evenhand.errors import UnreadableScore
from evenhand.music.formats.musicxml.read import read_musicxml
from evenhand.music.formats.passages import ReadScore
from evenhand.music.text import print_exercise
from tests.score_files import FOUR_FOUR, a_note, a_rest, a_score, attributes, notes, words


def exercises(score: ReadScore) -> list[str]:
    return [print_exercise(entry.exercise) for entry in score.entries]


def fingered(letter: str) -> str:
    technical = f"<notations><technical><fingering>{letter}</fingering></technical></notations>"
    return a_note(1, "16th", after=technical)


def tremolo(marks: int, kind: str = "single") -> str:
    return f'<notations><ornaments><tremolo type="{kind}">{marks}</tremolo></ornaments></notations>'


def test_lyrics() -> None:
    score = read_musicxml(a_score(attributes() + notes("RLRRLRLL") + notes("RLRRLRLL"), title="Warm up"))
    assert exercises(score) == ["4/4 1/16: RLRR LRLL RLRR LRLL"]
    assert score.entries[0].title == "Warm up"
    assert score.warnings == ()


def test_fingerings() -> None:
    bar = attributes() + "".join(fingered(letter) for letter in "RLRRLRLLRLRRLRLL")
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/16: RLRR LRLL RLRR LRLL"]


def test_words_one_before_each_note() -> None:
    bar = attributes() + "".join(words(letter) + a_note(4, "quarter") for letter in "RLLR")
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/4: RLLR"]


@pytest.mark.parametrize("line", ["R L R R L R L L", "RLRR LRLL", "r l r r l r l l"])
def test_words_a_whole_line_of_them(line: str) -> None:
    bar = attributes() + words(line) + "".join(a_note(2, "eighth") for _ in range(8))
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/8: RLRR LRLL"]


@pytest.mark.parametrize("letters", ["r l r r", "RH LH rh RH", "(R) (L) R. R"])
def test_letters_as_people_write_them(letters: str) -> None:
    bar = attributes() + "".join(a_note(4, "quarter", letter) for letter in letters.split())
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/4: RLRR"]


def test_other_signs_and_lyrics_are_no_hands() -> None:
    """A verse of words above the sticking, and a bowing beside the fingering."""
    verse = "<lyric number='2'><text>la</text></lyric>"
    signs = "<notations><technical><up-bow/><fingering>{}</fingering></technical></notations>"
    bar = attributes() + "".join(a_note(4, "quarter", after=signs.format(hand) + verse) for hand in "RLLR")
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/4: RLLR"]


def test_letters_that_fill_a_rolled_note_are_its_strokes() -> None:
    bar = attributes() + a_note(4, "quarter", "RL", after=tremolo(1)) + notes("RLR", 4, "quarter")
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/8: RL 1/4: RLR"]


def test_tremolos_between_two_notes_are_left_out() -> None:
    bar = (
        attributes()
        + a_note(8, "half", "R", after=tremolo(3, "start"))
        + a_note(8, "half", "L", after=tremolo(3, "stop"))
    )
    score = read_musicxml(a_score(bar))
    assert exercises(score) == ["4/4 1/2: RL"]
    assert score.warnings == ("tremolos between two notes were left out (measure 1)",)


def test_what_is_not_followed_is_said() -> None:
    ending = '<barline location="left"><ending number="1" type="start"/></barline>'
    slash = "<attributes><measure-style><slash type='start'/></measure-style></attributes>"
    grace = "<note><grace/><unpitched/><voice>1</voice></note>"
    cue = "<note><cue/><unpitched/><duration>4</duration><voice>1</voice></note>"
    bar = (
        attributes()
        + slash
        + ending
        + notes("RL", 4, "quarter")
        + cue
        + a_note(0)
        + notes("R", 4, "quarter")
        + grace
    )
    score = read_musicxml(a_score(bar))
    assert exercises(score) == ["4/4 1/4: RL-R"]
    assert score.warnings == (
        "signs for repeated or slashed bars were not followed (measure 1)",
        "first and second endings stand one after the other (measure 1)",
        "cue notes were read as rests (measure 1)",
        "notes without a length were left out (measure 1)",
        "graces that no note follows were left out (measure 1)",
    )


def test_what_is_not_followed_is_said_once_with_its_first_places() -> None:
    bar = notes("R", 4, "quarter") + a_note(0) + notes("LRL", 4, "quarter")
    score = read_musicxml(a_score(attributes() + bar, notes("RLRL", 4, "quarter"), bar, bar, bar))
    said = "notes without a length were left out (measure 1, measure 3, measure 4 and 1 more)"
    assert score.warnings[0] == said


def test_namespaces_and_prefixes_are_no_hindrance() -> None:
    plain = a_score(attributes() + notes("RLRR", 4, "quarter"), doctype="").decode()
    spaced = plain.replace("<score-partwise ", '<score-partwise xmlns="urn:example:music" ')
    assert exercises(read_musicxml(spaced.encode())) == ["4/4 1/4: RLRR"]


@pytest.mark.parametrize("code", ["utf-16", "latin-1"])
def test_other_codes_for_letters(code: str) -> None:
    plain = a_score(attributes() + notes("RLRR", 4, "quarter"), title="Schläge").decode()
    score = read_musicxml(plain.replace('encoding="UTF-8"', f'encoding="{code}"').encode(code))
    assert score.entries[0].title == "Schläge"


def test_a_score_by_measures() -> None:
    inside = attributes() + notes("RLRR", 4, "quarter")
    text = (
        '<score-timewise version="4.0"><part-list><score-part id="P1"><part-name>S</part-name></score-part>'
        f'</part-list><measure number="1"><part id="P1">{inside}</part></measure>'
        f'<measure number="2"><part id="P1">{notes("LRLL", 4, "quarter")}</part></measure></score-timewise>'
    )
    assert exercises(read_musicxml(text.encode())) == ["4/4 1/4: RLRR | LRLL"]


def test_dots_tuplets_and_rests() -> None:
    """12 divisions a quarter: a dotted eighth is 9, a sixteenth 3, a triplet eighth 4."""
    third = (
        "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    )
    bar = (
        attributes(12)
        + a_note(9, "eighth", "R", after="<dot/>")
        + a_note(3, "16th", "L")
        + "".join(a_note(4, "eighth", letter, after=third) for letter in "RLR")
        + a_rest(12)
        + a_note(12, "quarter", "L")
    )
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 3/16: R 1/16: L 1/12: RLR 1/4: -L"]


def test_a_rounded_tuplet_is_what_is_drawn() -> None:
    """Seven in a quarter of 480 divisions are 68.57 each, which files round to 68 and 69."""
    seventh = (
        "<time-modification><actual-notes>7</actual-notes><normal-notes>4</normal-notes></time-modification>"
    )
    lengths = [69, 68, 69, 68, 69, 68, 69]
    bar = attributes(480, "<time><beats>1</beats><beat-type>4</beat-type></time>")
    bar += "".join(
        a_note(each, "16th", hand, after=seventh) for each, hand in zip(lengths, "RLRLRLR", strict=True)
    )
    assert exercises(read_musicxml(a_score(bar))) == ["1/4 1/28: RLRLRLR"]


def test_accents_graces_and_buzzes() -> None:
    accent = "<notations><articulations><accent/></articulations></notations>"
    grace = '<note><grace slash="yes"/><unpitched/><voice>1</voice><type>eighth</type>{}</note>'
    own = "<lyric><text>r</text></lyric>"
    bar = (
        attributes()
        + grace.format("")
        + a_note(4, "quarter", "R", after=accent)
        + grace.format(own)
        + a_note(4, "quarter", "R")
        + grace.format("") * 2
        + a_note(4, "quarter", "lrL")
        + a_note(4, "quarter", "L", after=tremolo(0, "unmeasured"))
    )
    # A grace without a letter of its own is the other hand's; with one it is that hand's; lrL says both.
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/4: >lR rR lrLL~"]


def test_ties_lengthen_a_note_and_a_sticking_strikes_it_again() -> None:
    start, stop = '<tie type="start"/>', '<tie type="stop"/>'
    first = attributes() + notes("RL", 4, "quarter") + a_note(8, "half", "R", inside=start)
    second = a_note(4, "quarter", inside=stop) + notes("L", 4, "quarter") + notes("RL", 4, "quarter")
    tied = read_musicxml(a_score(first, second))
    assert exercises(tied) == ["4/4 1/4: RL 3/4: R 1/4: LRL"]
    second = a_note(4, "quarter", "L", inside=stop) + notes("R", 4, "quarter") + notes("RL", 4, "quarter")
    assert exercises(read_musicxml(a_score(first, second))) == ["4/4 1/4: RL 1/2: R | 1/4: LRRL"]


def test_measured_tremolos_are_written_out() -> None:
    """One slash on an eighth: two sixteenths by one hand. Three on a quarter: eight thirty-seconds."""
    bar = (
        attributes()
        + a_note(2, "eighth", "R", after=tremolo(1))
        + a_note(2, "eighth", "L", after=tremolo(1))
        + a_note(4, "quarter", "R", after=tremolo(3))
        + a_note(8, "half", "R")
    )
    score = read_musicxml(a_score(bar))
    assert exercises(score) == ["4/4 1/16: RRLL 1/32: RRLL RRLL 1/2: R"]
    assert "written out" in score.warnings[0]


def test_the_note_that_a_roll_is_tied_to_is_struck() -> None:
    roll = '<tie type="start"/>'
    bar = attributes() + a_note(4, "quarter", "R", inside=roll, after=tremolo(3))
    bar += a_note(4, "quarter", inside='<tie type="stop"/>') + notes("RL", 4, "quarter")
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/32: RRLL RRLL+ 1/4: RRL"]


def test_voices_are_kept_apart_and_the_one_with_stickings_is_read() -> None:
    hands = notes("RLRRLRLL", 2, "eighth")
    feet = "<backup><duration>16</duration></backup>" + "".join(a_note(8, "half", voice=2) for _ in range(2))
    score = read_musicxml(a_score(attributes() + hands + feet))
    assert exercises(score) == ["4/4 1/8: RLRR LRLL"]
    assert score.warnings == ("voice 2 of staff 1, 2 notes, was left out (measure 1)",)


def test_what_a_voice_leaves_out_is_rests() -> None:
    forward = "<forward><duration>4</duration></forward>"
    bar = attributes() + notes("R", 4, "quarter") + forward + notes("L", 4, "quarter") + forward
    assert exercises(read_musicxml(a_score(bar))) == ["4/4 1/4: R-L-"]


def test_notes_struck_together_are_one() -> None:
    chord = "<note><chord/><unpitched/><duration>4</duration><voice>1</voice></note>"
    bar = attributes() + notes("R", 4, "quarter") + chord + notes("LRL", 4, "quarter")
    score = read_musicxml(a_score(bar))
    assert exercises(score) == ["4/4 1/4: RLRL"]
    assert score.warnings == ("of notes struck together only one was taken over (measure 1)",)


def test_passages_between_repeats_and_marks() -> None:
    opening = '<barline location="left"><repeat direction="forward"/></barline>'
    closing = '<barline location="right"><repeat direction="backward"/></barline>'
    score = read_musicxml(
        a_score(
            attributes() + words("Singles") + opening + notes("RLRL", 4, "quarter") + closing,
            words("B", tag="rehearsal") + notes("RRLL", 4, "quarter"),
            notes("RLRR", 4, "quarter") + closing,
            notes("LRLL", 4, "quarter"),
            title="Page 1",
        )
    )
    assert exercises(score) == ["4/4 1/4: RLRL", "4/4 1/4: RRLL | RLRR", "4/4 1/4: LRLL"]
    assert [entry.title for entry in score.entries] == ["Singles", "B", "Page 1, 3"]


def test_a_passage_written_out_again_is_taken_over_once() -> None:
    closing = '<barline location="right"><repeat direction="backward"/></barline>'
    bar = notes("RLRL", 4, "quarter") + closing
    score = read_musicxml(a_score(attributes() + bar, bar, bar))
    assert exercises(score) == ["4/4 1/4: RLRL"]
    assert score.warnings == ("what is written up to 3 times in a row was taken over once",)


def test_meters() -> None:
    def first(time: str, *bars: str) -> str:
        return exercises(read_musicxml(a_score(attributes(4, time) + bars[0], *bars[1:])))[0]

    assert first("<time><beats>3+2</beats><beat-type>8</beat-type></time>", notes("RLRLR", 2, "eighth")) == (
        "3+2/8 1/8: RLRL R"
    )
    hidden = FOUR_FOUR.replace("<time>", '<time print-object="no">')
    assert first(hidden, notes("RLRR", 4), notes("LRLL", 4)) == "1/4: RLRR | LRLL"
    assert first("<time><senza-misura/></time>", notes("RLR", 4, "quarter")) == "1/4: RLR"


@pytest.mark.parametrize("last", ["RLR", "RLRL"])
def test_a_pickup_stays_one_whether_or_not_the_last_bar_makes_room_for_it(last: str) -> None:
    score = read_musicxml(a_score(attributes() + notes("L", 4, "quarter"), notes(last, 4, "quarter")))
    assert exercises(score) == [f"4/4 pickup 1/4: L | {last}"]
    assert score.warnings == ()


def test_the_tempo_is_the_first_mark() -> None:
    mark = (
        "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>"
        "<per-minute>60</per-minute></metronome></direction-type></direction>"
    )
    sound = '<sound tempo="200"/>'
    assert str(read_musicxml(a_score(attributes() + sound + mark + notes("RL", 8))).tempo) == "3/8 = 60"
    assert str(read_musicxml(a_score(attributes() + sound + notes("RL", 8))).tempo) == "1/4 = 200"


def test_hands_where_none_are_written() -> None:
    bar = attributes() + "".join(a_note(4, "quarter", letter) for letter in ("R", "", "", "R"))
    with pytest.raises(UnreadableScore, match="2 of 4 notes have no hand, the first in measure 1"):
        read_musicxml(a_score(bar))
    alternate = read_musicxml(a_score(bar), hands="alternate")
    assert exercises(alternate) == ["4/4 1/4: RLRR"]
    assert alternate.warnings == (
        "2 of 4 notes had no hand: each the other hand than the note before was put in",
    )
    assert exercises(read_musicxml(a_score(bar), hands="right")) == ["4/4 1/4: RRRR"]


def two_parts() -> bytes:
    treble = attributes(clef="<clef><sign>G</sign></clef>")
    piano = a_note(16, "whole", pitch="<pitch><step>C</step><octave>4</octave></pitch>")
    return (
        '<score-partwise version="4.0"><part-list>'
        '<score-part id="P1"><part-name>Piano</part-name></score-part>'
        '<score-part id="P2"><part-name>Side Drum</part-name></score-part></part-list>'
        f'<part id="P1"><measure number="1">{treble}{piano}</measure></part>'
        f'<part id="P2"><measure number="1">{attributes()}{notes("RLRR", 4, "quarter")}</measure></part>'
        "</score-partwise>"
    ).encode()


def test_the_percussion_part_is_found_or_named() -> None:
    assert exercises(read_musicxml(two_parts())) == ["4/4 1/4: RLRR"]
    assert exercises(read_musicxml(two_parts(), part="side drum")) == ["4/4 1/4: RLRR"]
    assert exercises(read_musicxml(two_parts(), part="1", hands="right")) == ["4/4 1/1: R"]
    with pytest.raises(UnreadableScore, match=r"no part 'Bass' in it\. Its parts are 'Piano', 'Side Drum'"):
        read_musicxml(two_parts(), part="Bass")
