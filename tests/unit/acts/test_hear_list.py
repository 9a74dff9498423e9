"""Whatever one take of a list brings up, the others are heard and it is named."""

from __future__ import annotations

import os
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from evenhand.acts.takes.many import ENDED, ListedTake, cores, hear_list
from evenhand.acts.takes.request import TakeRequest
from evenhand.errors import NoSound
from evenhand.take import SNARE_NOTES, MidiTake, Progress, SoundTake
from evenhand.testing import FakeTakes


def listed(*names: str) -> list[ListedTake]:
    return [
        ListedTake(row, Path(name), TakeRequest(), Path(name).stem) for row, name in enumerate(names, start=2)
    ]


SILENT = NoSound(got="the recording is silent", do="Record it again.")
OPENS = FakeTakes({"silent.wav": SILENT, "odd.wav": ZeroDivisionError("odd")}, fatal=frozenset({"huge.wav"}))


@pytest.mark.parametrize("jobs", [1, 2])
def test_each_failing_take_gives_its_own_reason(jobs: int) -> None:
    results = list(hear_list(listed("silent.wav", "odd.wav", "gone.wav"), opens=OPENS, jobs=jobs))
    reasons = {result.listed.path.name: result.reason for result in results}
    assert reasons == {
        "silent.wav": "the recording is silent. Record it again.",
        "odd.wav": "an error of Evenhand's own, ZeroDivisionError: odd",
        "gone.wav": "gone.wav: there is no such take. Name another.",
    }
    assert all(result.json is None for result in results)


def test_a_take_that_ends_its_process_is_named_and_the_others_are_heard() -> None:
    names = ["silent.wav", "huge.wav", *["silent.wav"] * 6]
    results = list(hear_list(listed(*names), opens=OPENS, jobs=2))
    assert sorted(result.listed.row for result in results) == list(range(2, 10))
    by_row = {result.listed.row: result.reason or "" for result in results}
    assert "ended its process" in by_row.pop(3)
    assert set(by_row.values()) == {"the recording is silent. Record it again."}


def test_a_hearing_without_an_end_is_ended_and_named_and_one_process_is_one_of_its_own() -> None:
    """Alone in this process, both would have taken it along."""
    names = ("silent.wav", "slow.wav", "huge.wav")
    found = hear_list(listed(*names), opens=OpensSlowly(), jobs=1, longest_s=3.0)
    reasons = {result.listed.path.name: result.reason or "" for result in found}
    assert reasons["silent.wav"] == "the recording is silent. Record it again."
    assert reasons["slow.wav"] == reasons["huge.wav"] == ENDED


class OpensSlowly:
    """Opens one take for a minute."""

    def __call__(
        self, path: Path, *, midi_notes: Sequence[int] = SNARE_NOTES, progress: Progress | None = None
    ) -> SoundTake | MidiTake:
        """Open it."""
        time.sleep(60 if path.name == "slow.wav" else 0)
        return OPENS(path, midi_notes=midi_notes, progress=progress)


def test_no_takes_give_no_results() -> None:
    assert list(hear_list([], opens=OPENS)) == []


@pytest.mark.skipif(
    not hasattr(os, "sched_setaffinity"), reason="this system does not hold a process to a core"
)
def test_only_cores_that_this_process_may_use_are_counted() -> None:
    """A process held to one core, as a container's is, starts one worker, however many the machine has."""
    may_use = os.sched_getaffinity(0)
    os.sched_setaffinity(0, {min(may_use)})
    try:
        assert cores() == 1
    finally:
        os.sched_setaffinity(0, may_use)
    assert cores() == len(may_use)
