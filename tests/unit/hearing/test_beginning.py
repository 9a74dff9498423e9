"""Where the playing begins: a count-in on the drum is one more reading, believed on clear evidence only."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenhand.hearing.alignment.beginning import KnownStart, begin
from evenhand.report.words.remarks import all_remarks
from evenhand.synthesis.player import SimulatedTake
from evenhand.take import Heard
from tests.unit.hearing.sounds import STEADY, candidates_at, evenly, heard_in, played, score_of

EIGHT = "1/8: RLRR LRLL"
QUARTERS = "1/4: RLRR LRLL"


def times_through(heard: Heard) -> dict[int, int]:
    """Count the hits of each time through."""
    numbers = [hit.repetition or 0 for hit in heard.hits]
    return {number: numbers.count(number) for number in sorted(set(numbers))}


@pytest.mark.parametrize("bpm", [60, 80, 100, 120, 144])
@pytest.mark.parametrize("seed", [1, 4])
def test_a_first_time_through_whose_notes_are_a_beat_apart_is_played(bpm: int, seed: int) -> None:
    """Eight notes, four times: a beat apart each, and nothing else tells them from a count-in."""
    take = played(EIGHT, f"1/8={bpm}", 4, seed=seed, noise_snr_db=45.0, count_in="click", lead_in_s=0.5)
    heard = heard_in(take, EIGHT, f"1/8={bpm}")
    assert times_through(heard) == {1: 8, 2: 8, 3: 8, 4: 8}
    assert (heard.missed, heard.extra) == ((), ())


@pytest.mark.parametrize("seed", range(3))
def test_a_soft_first_time_through_is_played(seed: int) -> None:
    """Sixteen quarter notes at 60, the first eight 8 dB softer, no click."""
    take = played(QUARTERS, "1/4=60", 2, player=replace(STEADY, first_db=-8.0), seed=seed)
    heard = heard_in(take, QUARTERS, "1/4=60")
    assert times_through(heard) == {1: 8, 2: 8}
    assert heard.extra == ()


def counted_in(text: str, tempo: str, beats: int = 4, level_db: float = -6.0) -> SimulatedTake:
    return played(text, tempo, 4, count_in="sticks", count_in_beats=beats, count_in_db=level_db, seed=2)


@pytest.mark.parametrize(
    ("text", "tempo"), [("1/16: RLRR LRLL", "1/4=70"), (EIGHT, "1/4=90"), (EIGHT, "1/8=100")]
)
def test_a_count_in_on_the_drum_is_told_from_notes(text: str, tempo: str) -> None:
    """Four blows a beat apart and softer: by their rhythm, or where that is the notes', by sound and end."""
    take = counted_in(text, tempo)
    heard = heard_in(take, text, tempo)
    assert times_through(heard) == {1: 8, 2: 8, 3: 8, 4: 8}
    assert [hit.reason for hit in heard.extra] == ["count-in"] * 4
    assert [hit.time_s for hit in heard.extra] == pytest.approx(list(take.truth.count_in_s), abs=2e-3)
    assert "4 hits were given no note: 4 taken for a count-in." in all_remarks(heard.warnings)


def test_where_the_counting_in_is_known_nothing_played_is_one() -> None:
    """The same blows before the same notes are notes then."""
    heard = heard_in(counted_in(EIGHT, "1/8=100"), EIGHT, "1/8=100", counted=True)
    assert len(heard.hits) == 36
    assert not heard.extra


def test_blows_that_may_be_either_are_notes_and_the_doubt_is_said() -> None:
    """As many soft blows as a time through has notes: a soft first time is as likely, so they are notes."""
    take = counted_in("1/8: RLRL", "1/8=100")
    heard = heard_in(take, "1/8: RLRL", "1/8=100")
    assert times_through(heard) == {1: 4, 2: 4, 3: 4, 4: 4, 5: 4}
    first_s = take.truth.hits[0].time_s
    said = [words for words in all_remarks(heard.warnings) if "may be a count-in" in words]
    assert len(said) == 1
    assert f"{first_s:.2f} s" in said[0]


def test_the_take_begins_where_it_is_said_to() -> None:
    take = counted_in("1/8: RLRL", "1/8=100")
    first_s = take.truth.hits[0].time_s
    heard = heard_in(take, "1/8: RLRL", "1/8=100", begins_at_s=round(first_s, 1))
    assert times_through(heard) == {1: 4, 2: 4, 3: 4, 4: 4}
    assert heard.hits[0].time_s == pytest.approx(first_s, abs=2e-3)
    assert [hit.reason for hit in heard.extra] == ["before the start"] * 4
    assert heard.begins_at_s == round(first_s, 1)


def test_a_first_hit_that_sounds_unlike_the_others_is_played() -> None:
    """It stands where the first note is due; all others have the sound of the hit before under them."""
    times = evenly(0.5, 0.25, 32)
    strange = candidates_at(times)
    strange.colour[0] = np.linspace(-20, 20, strange.colour.shape[1])
    begun = begin(score_of(EIGHT, "1/4=120"), strange, None, KnownStart())
    assert begun is not None
    assert begun.seen.times_s[begun.path.candidates].tolist() == times.tolist()


def test_nothing_found_begins_nowhere() -> None:
    score = score_of(EIGHT, "1/4=120")
    assert begin(score, candidates_at([]), None, KnownStart()) is None
    assert begin(score, candidates_at([]), None, KnownStart(begins_at_s=1.0)) is None


def test_who_is_counted_in_on_the_drum_and_misses_the_first_note_is_in_time_all_the_same() -> None:
    """By hand: four beats of half a second to 2 s, the top due at 2.5 s; what comes at 2.75 s is note 2."""
    times = np.append(evenly(0.5, 0.5, 4), evenly(2.75, 0.25, 31))
    begun = begin(score_of(EIGHT, "1/4=120"), candidates_at(times), None, KnownStart())
    assert begun is not None
    assert begun.counted_s.tolist() == [0.5, 1.0, 1.5, 2.0]
    assert begun.path.notes.tolist() == list(range(1, 32))


def test_a_row_that_nothing_much_follows_is_no_count_in() -> None:
    """Eight blows and one more: nobody counts eight to play one note."""
    begun = begin(score_of(EIGHT, "1/8=120"), candidates_at(evenly(0.5, 0.5, 9)), None, KnownStart())
    assert begun is not None
    assert len(begun.counted_s) == 0
    assert len(begun.path.notes) == 9
