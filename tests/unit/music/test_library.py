"""The library: built by rule, checked against letters written by hand; in order of measured difficulty."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from evenhand.music.equivalence import canonical
from evenhand.music.exercise import Tempo
from evenhand.music.library.forty import ladder
from evenhand.music.library.letters import goes_to_the_other_hand
from evenhand.music.library.sticking import roll
from evenhand.music.library.strokes import drop_hands, is_drops
from evenhand.music.library.tracks import LEFT_LEAD, TRACKS, library, track
from evenhand.music.rudiments import rudiments
from evenhand.music.text import parse_exercise, print_exercise
from evenhand.music.writing.difficulty import difficulties
from evenhand.music.writing.rates import rate_per_s

LIBRARY = library()
TEXT_OF = {
    (each.track, each.title): print_exercise(each.exercise) for each in LIBRARY if each.track != LEFT_LEAD
}
LEFT = {each.title: print_exercise(each.exercise) for each in track(LEFT_LEAD)}


@pytest.mark.parametrize(
    ("name", "title", "text"),
    [  # by hand
        ("drops", "Drops from hand to hand", "1/2: R-L-"),
        ("one hand", "1st and 4th of four, hand by hand", "1/8: R--R R--R L--L L--L"),
        ("hand to hand", "Eight each hand", "1/8: RRRR RRRR LLLL LLLL"),
        ("hand to hand", "Three, two, one each hand", "1/16: RRRL LLRR LLRL"),
        ("singles", "Singles in sixteenths", "1/16: RLRL RLRL"),
        (
            "singles",
            "Singles, eighths to eighth triplets",
            "1/8: RLRL 1/12: RLR LRL",
        ),
        ("bursts", "Bursts of five, lead in turn", "1/16: RLRL R- 1/8: - 1/16: LRLR L- 1/8: -"),
        ("accents and taps", "Accent on the 3rd of four", "1/16: RL>RL"),
        ("accents and taps", "Accents on the 1st and 3rd of three", "1/12: >RL>R >LR>L"),
        ("accents and taps", "One accent through the bar", "1/16: >RLRL R>LRL RL>RL RLR>L"),
        ("down and up", "Every 3rd high, hand by hand", "1/12: >RRR >RRR >LLL >LLL"),
        ("doubles", "Doubles, the second accented", "1/16: R>RL>L R>RL>L"),
        ("triples", "RRL from hand to hand", "1/12: RRL LLR"),
        ("paradiddles", "Single paradiddle from its 2nd note", "1/16: RLLR LRRL"),
        ("paradiddles", "Single paradiddle from its 4th note", "1/16: RLRL LRLR"),
        ("paradiddles", "Double paradiddle", "1/24: RLR LRR LRL RLL"),
        ("paradiddles", "Accent on the 2nd of each paradiddle", "1/16: R>LRR L>RLL"),
        ("rolls", "Roll of 8", "1/32: RRLL RR 1/16: >L 1/4: >R"),
        ("flams", "Flam on the 3rd of three", "1/12: RL lRLR rL"),
        ("flams", "Open flam, a sixteenth apart", "1/16: LR 1/8: - 1/4: - 1/16: RL 1/8: - 1/4: -"),
        ("drags", "Drag on the 2nd of four", "1/16: R rrLRL"),
        ("odd groups", "Groups of three, RLL", "3/4 1/16: >RLL>R LL>RL L>RLL"),
        ("dynamics", "From soft to loud, beat by beat", "1/16: RLRL >RLRL >RL>RL >R>L>R>L"),
        ("the forty", "Flam tap", "1/16: >lRR >rLL"),
    ],
)
def test_letters_by_hand(name: str, title: str, text: str) -> None:
    assert TEXT_OF[name, title] == text


def test_tracks_stand_easy_to_hard_and_say_nothing_twice() -> None:
    for name in TRACKS:
        exercises = [each.exercise for each in track(name)]
        loads = [round(each.load, 6) for each in difficulties(exercises, Tempo.parse("1/4=60"))]
        assert loads == sorted(loads)
        assert [each.place for each in track(name)] == list(range(1, len(exercises) + 1))
        assert len({each.title for each in track(name)}) == len(exercises)
        assert len({canonical(each, rotation=False, swap=False) for each in exercises}) == len(exercises)


def test_every_exercise_is_written_as_it_is_printed() -> None:
    for each in LIBRARY:
        assert parse_exercise(print_exercise(each.exercise)) == each.exercise


def test_what_does_not_go_to_the_other_hand_is_led_by_the_left_in_a_track_of_its_own() -> None:
    for each in LIBRARY:
        if each.track in ("drops", "one hand", LEFT_LEAD, "the forty"):
            continue
        assert goes_to_the_other_hand(each.exercise) == (f"{each.title}, left first" not in LEFT)
    for title, text in LEFT.items():
        twin = next(t for (_, name), t in TEXT_OF.items() if f"{name}, left first" == title)
        assert parse_exercise(text).notes[0].hand == "L"
        assert canonical(parse_exercise(text), rotation=False) == canonical(
            parse_exercise(twin), rotation=False
        )


def test_every_inversion_of_a_paradiddle_is_the_paradiddle_begun_elsewhere() -> None:
    for name, inversions in (
        ("Single paradiddle", 4),
        ("Double paradiddle", 6),
        ("Triple paradiddle", 8),
        ("Paradiddle-diddle", 6),
    ):
        turned = [t for (of, title), t in TEXT_OF.items() if of == "paradiddles" and title.startswith(name)]
        assert len(turned) == inversions
        assert len({canonical(parse_exercise(text)) for text in turned}) == 1


@pytest.mark.parametrize("count", range(5, 18))
def test_a_roll_has_as_many_strokes_as_it_says(count: int) -> None:
    exercise = parse_exercise(roll(count))
    assert len(exercise.notes) == count
    accented = [note.accent for note in exercise.notes]
    assert accented == [False] * (count - 2 + count % 2) + [True] * (2 - count % 2)
    assert exercise.length.numerator == 1
    assert all(one.hand != two.hand for one, two in pairwise(exercise.notes[::2]) if not two.accent)


def test_rolls_of_the_track_are_those_of_the_forty() -> None:
    """Two tables, one typed and one built, agree; six of the forty is another figure, led by a single."""
    of_the_forty = {each.text for each in rudiments() if "stroke roll" in each.name and each.number >= 7}
    built = {text for (name, _), text in TEXT_OF.items() if name == "rolls"}
    assert of_the_forty - built == {"1/16: >R 1/32: LLRR 1/16: >L"}


def test_how_many_accents_and_ornaments_there_are_to_move() -> None:
    """By hand: of four places 4 single accents, 6 pairs and 4 threes; of three 3 and 3."""
    grids = [title for name, title in TEXT_OF if name == "accents and taps" and title.startswith("Accent")]
    assert len([each for each in grids if each.endswith("of four")]) == 14
    assert len([each for each in grids if each.endswith("of three")]) == 6
    for name, said in (("flams", "Flam on the "), ("drags", "Drag on the ")):
        places = [title for of, title in TEXT_OF if of == name and title.startswith(said)]
        assert len([each for each in places if each.endswith((" of four", " of three"))]) == 7


def test_drops_have_as_much_time_as_they_need_and_each_its_hand() -> None:
    """Tatum 5.2: from 25 cm at e = 0.8 a stick lies still after sqrt(2h/g)(1+e)/(1-e) = 2.0 s."""
    lies_still_s = (2 * 0.25 / 9.80665) ** 0.5 * 1.8 / 0.2
    for each in track("drops"):
        assert is_drops(each.exercise)
        tempo = Tempo(Fraction(1, 4), 60.0)
        assert float(Fraction(1)) * tempo.whole_note_s > lies_still_s
    assert not any(is_drops(each.exercise) for each in LIBRARY if each.track != "drops")
    assert drop_hands(parse_exercise("1/2: R- L-"), 5) == ("R", "L", "R", "L", "R")
    assert drop_hands(parse_exercise("1/2: R- R- L- L-"), 3) == ("R", "R", "L")


def test_the_ladders_rise_and_end_over_the_turn_where_there_are_doubles() -> None:
    """A double is a bounce under 150 ms: 3.33 strokes a second of a hand in RRLL (Fujii et al. 2009)."""
    for each in rudiments():
        slow, middle, target = ladder(each)
        assert slow.bpm >= 40
        assert target.bpm <= 208
        assert slow.bpm < middle.bpm < target.bpm
    (open_roll,) = [each for each in rudiments() if each.name == "Double stroke open roll"]
    assert rate_per_s(parse_exercise(open_roll.text), ladder(open_roll)[2]) == pytest.approx(3.67, abs=0.1)
