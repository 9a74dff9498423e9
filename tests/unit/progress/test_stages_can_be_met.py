"""What a stage asks can be shown by the takes that it assigns: its exercise to record, within its bounds.

An invented player who is even plays the exercise on five days over two weeks, up to the stage's fast end;
the takes are measured and judged as any are. What is asked must then be met: else nobody could go on.
"""

from __future__ import annotations

from typing import Any

import pytest

from evenhand.acts.takes.document import past_take
from evenhand.measuring.measure import measure
from evenhand.measuring.rules.findings import find
from evenhand.measuring.values import HeardTake
from evenhand.music.exercise import Tempo
from evenhand.music.writing.rates import tempo_bounds
from evenhand.progress.history import History, PastTake
from evenhand.progress.stages.advising import advise
from evenhand.progress.stages.gate import for_stage, record_of, within
from evenhand.progress.stages.path import EIGHTH, PATH_MEASURES, Stage
from evenhand.progress.stages.usual import COMMON_PATH
from evenhand.take import InputFacts
from tests.histories import day, drops
from tests.players import heard_of

PLAYED = [stage for stage in COMMON_PATH.stages if stage.stroke is not None]
EVEN: dict[str, Any] = {"hand_ms": {"R": 2.0, "L": 2.2}, "timekeeper_ms": 1.0, "accent_db": 11.0}
SECONDS = 100.0  # long enough for what endurance asks


def played(stage: Stage, through: float, on: int, **changes: Any) -> PastTake:
    """Play a stage's exercise, ``through`` from its slow end (0) to its fast end (1)."""
    exercise = record_of(stage)
    assert exercise is not None
    slow, fast = tempo_bounds(exercise, stage.rate_per_s, EIGHTH)
    tempo = Tempo(EIGHTH, slow + (fast - slow) * through)
    assert within(stage, exercise, tempo) is None
    times = max(12, int(SECONDS / (float(exercise.length) * tempo.whole_note_s)))
    heard = heard_of(exercise, repetitions=times, tempo=str(tempo), seed=on, **{**EVEN, **changes})
    measures = measure(heard, exercise, tempo)
    take = HeardTake(
        input=InputFacts("midi", SECONDS),
        exercise=exercise,
        exercise_text=stage.record,
        tempo=tempo,
        heard=heard,
        measures=measures,
        findings=find(heard, measures, exercise, tempo),
        name=f"{on}.mid",
        version="0",
    )
    return past_take(take, day(on), stage.stroke)


def takes(stage: Stage, **changes: Any) -> History:
    return History(tuple(played(stage, on / 12, on, **changes) for on in (0, 3, 6, 9, 12)))


@pytest.mark.parametrize("stage", PLAYED, ids=lambda stage: stage.name)
def test_an_even_player_meets_every_condition(stage: Stage) -> None:
    advice = advise(takes(stage), COMMON_PATH, stage.name)
    assert {each.condition.measure: each.verdict for each in advice.judged} == {
        each.measure: "not seen" if PATH_MEASURES[each.measure].seen else "met" for each in stage.conditions
    }


@pytest.mark.parametrize("stage", PLAYED, ids=lambda stage: stage.name)
def test_an_uneven_player_does_not(stage: Stage) -> None:
    """The left hand 25 ms late, 4 dB softer, its strokes strayed by 25 ms, and no accent stands out."""
    uneven = takes(
        stage,
        late_ms={"L": 25.0},
        level_db={"R": -14.0, "L": -18.0},
        hand_ms={"R": 20.0, "L": 25.0},
        accent_db=2.0,
    )
    assert any(each.verdict == "not met" for each in advise(uneven, COMMON_PATH, stage.name).judged)


def test_drops_left_free_meet_the_first_stage() -> None:
    free = ("free",) * 4
    history = History((), (drops(day(0), *free, label="R"), drops(day(4), *free, label="L")))  # type: ignore[arg-type]
    assert {each.verdict for each in advise(history, COMMON_PATH, "rebound").judged} == {"met"}


@pytest.mark.parametrize("stage", COMMON_PATH.stages, ids=lambda stage: stage.name)
def test_the_library_has_enough_for_each_stage(stage: Stage) -> None:
    """Variety over a week takes more than one day's seven exercises; of drops there are only so many."""
    found = for_stage(stage)
    assert len(found) >= (4 if stage.stroke is None else 12)
    assert found[0].track == stage.tracks[0]
    assert all(within(stage, each.exercise) is None for each in found)
