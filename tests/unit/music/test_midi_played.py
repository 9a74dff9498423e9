"""MIDI as it is played: bars that fit are taken beat by beat, others are named; flams are folded.

Every file is made of ticks: 480 a quarter, and 4/4 at 120 a quarter where the file says no other (Standard
MIDI Files 1.0), so that a tick is 1.042 ms.
"""

from __future__ import annotations

import re
from fractions import Fraction

import mido
import pytest

from evenhand.errors import UnreadableScore
from evenhand.music.formats.midi.read import read_midi_score
from evenhand.music.formats.passages import ReadScore
from evenhand.music.text import print_exercise
from tests.media_files import a_midi, end, note_on
from tests.outside import GROOVES

BAR, QUARTER = 1920, 480
SIXTEENTHS = [120 * step for step in range(16)]
MIXED = [0, 160, 320, *range(480, 960, 120), 960, 1200, 1440, 1680]  # triplets, sixteenths, eighths, eighths
ASTRAY = [0, 120, 290, 330, 480, 960, 1010, 1440]
SHAKE = (7, -9, 4, -6, 10, -5, 8)  # ticks; in turn, so that no bar is as a program would write it


def played(*bars: list[int], velocity: int = 100) -> bytes:
    """Give bars of onsets, each a few ticks off, and none as another."""
    ticks = [
        bar * BAR + at + SHAKE[(5 * bar + k) % 7] for bar, ats in enumerate(bars) for k, at in enumerate(ats)
    ]
    ticks = [max(tick, 0) for tick in ticks]
    waits = [after - before for before, after in zip([0, *ticks], ticks, strict=False)]
    return a_midi(b"".join(note_on(wait, velocity=velocity) for wait in waits) + end())


def texts(score: ReadScore) -> list[tuple[str, str]]:
    return [(entry.title, print_exercise(entry.exercise)) for entry in score.entries]


def test_bars_that_fit_are_taken_beat_by_beat_and_the_others_are_named() -> None:
    score = read_midi_score(played(SIXTEENTHS, MIXED, ASTRAY, SIXTEENTHS), hands="alternate")
    assert texts(score) == [
        ("bars 1 to 2 (hands proposed)", "4/4 1/16: RLRL RLRL RLRL RLRL | 1/12: RLR 1/16: LRLR 1/8: LRLR"),
        ("bar 4 (hands proposed)", "4/4 1/16: RLRL RLRL RLRL RLRL"),
    ]
    taken = next(said for said in score.warnings if " bars with notes were taken" in said)
    assert taken.startswith("3 of 4 bars with notes were taken")
    assert "1/16 (9×), 1/8 (2×), 1/12 (1×)" in taken
    assert any(
        re.search(r"nearest grid \(root mean square\): 3 \(\d\d ms off 1/\d+\)$", said)
        for said in score.warnings
    )
    assert score.proposed == (27, 16)


def test_a_grid_and_bars_can_be_asked_for() -> None:
    content = played(SIXTEENTHS, MIXED, ASTRAY, SIXTEENTHS)
    score = read_midi_score(content, hands="alternate", bars=(2, 2))
    assert [text for _, text in texts(score)] == ["4/4 1/12: RLR 1/16: LRLR 1/8: LRLR"]
    score = read_midi_score(content, hands="alternate", grids=(Fraction(1, 16),))
    assert [title for title, _ in texts(score)] == ["bar 1 (hands proposed)", "bar 4 (hands proposed)"]
    with pytest.raises(UnreadableScore, match="no notes in the bars"):
        read_midi_score(content, hands="alternate", bars=(7, 9))


def test_two_strokes_within_thirty_milliseconds_are_a_flam_however_loud() -> None:
    """24 ticks are 25 ms: no hand strikes twice so fast."""
    track = b"".join(note_on(QUARTER - 24) + note_on(24) for _ in range(4))
    score = read_midi_score(a_midi(track + end()), hands="alternate")
    assert texts(score)[0][1].endswith("lR rL lR rL")


def test_where_most_are_loud_the_few_soft_ones_are_ghosts() -> None:
    loud = (100, 100, 40, 100, 100, 100, 40, 100)
    track = b"".join(note_on(240 if at else 0, velocity=each) for at, each in enumerate(loud))
    (found,) = texts(read_midi_score(a_midi(track + end()), hands="alternate"))
    assert found[1] == "1/8: RL(R)L RL(R)L"


@pytest.mark.skipif(not GROOVES.is_dir(), reason="the real drumming is not here (EVENHAND_DATA)")
@pytest.mark.parametrize(
    ("name", "tempo", "taken"), [("10_country_114", 114, (26, 73)), ("9_jazz-march_120", 120, (21, 62))]
)
def test_what_drummers_played_stands_where_mido_hears_it(
    name: str, tempo: int, taken: tuple[int, int]
) -> None:
    """Groove MIDI Dataset (Gillick et al., ICML 2019, CC BY 4.0). How many bars are taken is a snapshot."""
    (path,) = GROOVES.glob(f"{name}*")
    score = read_midi_score(path.read_bytes(), hands="lead")
    said = next(each for each in score.warnings if "bars with notes were taken" in each)
    assert said.startswith(f"{taken[0]} of {taken[1]} bars")
    heard, at_s = [], 0.0
    for message in mido.MidiFile(path):
        at_s += message.time
        if message.type == "note_on" and message.velocity and message.note in {37, 38, 40}:
            heard.append(at_s)
    off_s = float(re.findall(r"beside ([-+.\d]+) ms", said)[0]) / 1000
    moved = []
    for entry in score.entries:
        first = int(re.findall(r"bars? (\d+)", entry.title)[0])
        for position in entry.exercise.struck:
            due_s = (first - 1 + float(entry.exercise.starts[position])) * 240 / tempo + off_s
            moved.append(min(abs(each - due_s) for each in heard))
    assert len(moved) > 250
    assert max(moved) < 0.035
    assert (sum(each * each for each in moved) / len(moved)) ** 0.5 < 0.018
