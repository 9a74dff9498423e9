"""What other programs' scores say beside hands and lengths: kept where exercise text has it, else named.

Scores are written by hand after the W3C's MusicXML 4.0 reference; what must come out is read off it.
"""

from __future__ import annotations

import pytest

from evenhand.music.formats.hands import HandsWhereNone
from evenhand.music.formats.musicxml.read import read_musicxml
from evenhand.music.formats.passages import ReadScore
from evenhand.music.text import print_exercise
from tests.score_files import FOUR_FOUR, a_note, a_score, attributes, notes, words

CHORD = "<note><chord/><unpitched/><duration>4</duration><voice>1</voice>{}</note>"
LYRIC = '<lyric number="2"><text>{}</text></lyric>'


def read(*bars: str, **options: object) -> ReadScore:
    return read_musicxml(a_score(attributes() + bars[0], *bars[1:]), **options)  # type: ignore[arg-type]


def text(score: ReadScore) -> str:
    (entry,) = score.entries
    return print_exercise(entry.exercise)


def signed(inside: str) -> str:
    return f"<notations>{inside}</notations>"


def direction(inside: str) -> str:
    return f"<direction><direction-type>{inside}</direction-type></direction>"


@pytest.mark.parametrize(
    "first",
    [
        a_note(4, "quarter", "R", after=LYRIC.format("L")),
        a_note(4, "quarter", "R") + CHORD.format("<lyric><text>L</text></lyric>"),
        a_note(4, "quarter", "B"),
        a_note(4, "quarter", "B") + CHORD.format(""),
        a_note(4, "quarter", "R/L"),
    ],
)
def test_both_hands_at_once_are_a_unison(first: str) -> None:
    score = read(first + notes("LRL", 4, "quarter"))
    assert (text(score), score.warnings) == ("4/4 1/4: BLRL", ())


def test_two_letters_under_one_note_are_both_hands_and_it_is_said() -> None:
    score = read(a_note(4, "quarter", "RL") + notes("LRL", 4, "quarter"))
    assert text(score) == "4/4 1/4: BLRL"
    assert score.warnings == ("two hands under one note were read as both at once (measure 1)",)


def test_a_whole_second_line_of_sticking_is_another_way_and_no_unison() -> None:
    pairs = (("R", "L"), ("L", "R"), ("R", "L"), ("R", "L"))
    score = read("".join(a_note(4, "quarter", up, after=LYRIC.format(down)) for up, down in pairs))
    assert text(score) == "4/4 1/4: RLRR"
    assert score.warnings == ("a second line of sticking was left out",)


def test_ghosts_strong_accents_and_heads() -> None:
    strong = signed("<articulations><strong-accent/></articulations>")
    bar = (
        a_note(4, "quarter", "R", after='<notehead parentheses="yes">normal</notehead>')
        + a_note(4, "quarter", "L", after=strong)
        + a_note(4, "quarter", "R", after="<notehead>x</notehead>")
        + a_note(4, "quarter", "L", after="<notehead>diamond</notehead>")
    )
    score = read(bar)
    assert text(score) == "4/4 1/4: (R)^LRxL"
    assert score.warnings == ("heads of another shape (diamond) were read as plain ones (measure 1)",)


def test_a_kits_drums_are_read_as_one_and_its_x_is_no_cross_stick() -> None:
    at = "<unpitched><display-step>{}</display-step><display-octave>5</display-octave></unpitched>"
    bar = "".join(
        a_note(4, "quarter", "R", pitch=at.format(step), after="<notehead>x</notehead>") for step in "CEFG"
    )
    score = read(bar)
    assert text(score) == "4/4 1/4: RRRR"
    assert score.warnings[0] == "notes at 4 places of the staff were read as one drum"


def test_dynamics_and_swells_hold_across_passages() -> None:
    closing = '<barline location="right"><repeat direction="backward"/></barline>'
    first = direction("<dynamics><p/></dynamics>") + notes("R", 4, "quarter")
    first += direction('<wedge type="crescendo"/>') + notes("LR", 4, "quarter")
    first += direction('<wedge type="stop"/>') + direction("<dynamics><f/></dynamics>")
    score = read(first + notes("L", 4, "quarter") + closing, words("dim.") + notes("RLRL", 4, "quarter"))
    assert [print_exercise(entry.exercise) for entry in score.entries] == [
        "4/4 1/4: p R cresc LR f L",
        "4/4 1/4: f dim RLRL",
    ]
    assert score.warnings == ()


def test_meters_that_change_and_are_counted_in_groups() -> None:
    grouped = FOUR_FOUR.replace("<beats>4</beats><beat-type>4", "<beats>2+3</beats><beat-type>8")
    second = f"<attributes>{grouped}</attributes>" + notes("RLRLR", 2, "eighth")
    score = read(notes("RLRR", 4, "quarter"), second)
    assert (text(score), score.warnings) == ("4/4 1/4: RLRR | 2+3/8 1/8: RLRL R", ())


def test_what_cannot_be_written_is_named_with_its_measure() -> None:
    staccato = signed("<articulations><staccato/></articulations><fermata/><slur type='start'/>")
    bar = direction("<dynamics><sfz/></dynamics>") + a_note(4, "quarter", "R", after=staccato)
    bar += direction("<pedal type='start'/>") + a_note(4, "quarter", "L", after=LYRIC.format("la"))
    bar += words("very even") + notes("RL", 4, "quarter") + "<harmony/><sound dacapo='yes'/>"
    score = read(notes("RLRR", 4, "quarter"), bar)
    assert text(score) == "4/4 1/4: RLRR | RLRL"
    assert set(score.warnings) == {
        f"{each} (measure 2)"
        for each in (
            "the dynamic sfz was left out",
            "staccato was left out",
            "fermata was left out",
            "slur was left out",
            "pedal was left out",
            "lyrics that name no hand were left out",
            "words were left out: 'very even'",
            "harmony was left out",
            "jumps (da capo, dal segno, coda) were not followed",
        )
    }


def test_only_the_bars_that_are_asked_for_are_read_and_spoken_of() -> None:
    odd = a_note(4, "quarter", "R", after=signed("<fermata/>"))
    score = read(odd + notes("LRL", 4, "quarter"), notes("RRLL", 4, "quarter"), bars=(2, 2))
    assert (text(score), score.warnings) == ("4/4 1/4: RRLL", ())


@pytest.mark.parametrize(
    ("rule", "letters"), [("alternate", "RLRLRL"), ("doubles", "RRLLRR"), ("lead", "RLRRLR")]
)
def test_hands_are_proposed_by_a_rule_and_marked(rule: HandsWhereNone, letters: str) -> None:
    """Two eighths, a quarter, two eighths, a half: where no sign stands the hand goes by the rule."""
    lengths = ((2, "eighth"), (2, "eighth"), (4, "quarter"), (2, "eighth"), (2, "eighth"), (4, "quarter"))
    score = read("".join(a_note(ticks, kind) for ticks, kind in lengths), hands=rule)
    (entry,) = score.entries
    assert "".join(note.hand or "-" for note in entry.exercise.notes) == letters
    assert entry.title == "(hands proposed)"
    assert score.proposed == (6,)
    assert "6 of 6 notes had no hand" in score.warnings[0]
