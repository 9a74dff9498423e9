"""All takes heard again by a newer ear: both versions stand side by side, and every difference is counted."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from zipfile import ZipFile

import pytest
import typer
from typer.testing import CliRunner, Result

from evenhand.acts.takes.document import ear_in, heard_take_of, json_text
from evenhand.cli.studio.batch import hear_again
from evenhand.errors import NotFound, WrongOptions
from evenhand.measuring.values import HeardTake
from evenhand.studio.archive import student_archive
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from evenhand.studio.whole.again import COLUMNS, Which, ask_again, compared, go_back, take_over
from evenhand.studio.work.pool import hear_waiting_once
from evenhand.take import EAR, Hit
from tests.places import Place
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import NOON, a_new_take

app = typer.Typer()
app.command("hear-again")(hear_again)
Changes = Callable[[tuple[Hit, ...]], tuple[Hit, ...]]


def late(hits: tuple[Hit, ...]) -> tuple[Hit, ...]:
    """As an ear would have it that timed the first three hits 3 ms later, and the fourth 1 ms."""
    moves = (0.003, 0.003, 0.003, 0.001)
    moved = [replace(hit, time_s=hit.time_s + by) for hit, by in zip(hits[:4], moves, strict=True)]
    return (*moved, *hits[4:])


def two_fewer(hits: tuple[Hit, ...]) -> tuple[Hit, ...]:
    """As one that did not hear the last two, gave the first to the other hand, and heard one far off."""
    first = replace(hits[0], hand="L" if hits[0].hand == "R" else "R")
    ghost = replace(hits[-1], time_s=hits[-1].time_s + 0.5)
    return (first, *hits[1:-2], ghost)


def heard_before(studio: Studio, take: StudioTake, changes: Changes, **more: object) -> None:
    """Let what is shown be what ear 2 heard, which heard otherwise."""
    now = heard_take_of(take.heard or "")
    heard = replace(now.heard, ear=EAR - 1, hits=changes(now.heard.hits))
    was: HeardTake = replace(now, heard=heard, **more)  # type: ignore[arg-type]  # any field of it
    studio.takes.change(take.id, heard=json_text(was))


@pytest.fixture
def takes(studio: Studio) -> list[StudioTake]:
    """Give three takes of ear 2: one timed otherwise, one heard otherwise, one the same."""
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    for k, whose in enumerate((ida, una, ida)):
        when = NOON.replace(day=10 + k)
        new = a_new_take(whose.id, f"key-{k}", exercise=EXERCISE, tempo=TEMPO, recorded_at=when)
        studio.takes.receive(new, a_recording(seed=k))
    assert hear_waiting_once(studio) == 3
    found = sorted(studio.takes.all(with_heard=True), key=lambda take: take.recorded_at)
    otherwise: tuple[Changes, ...] = (late, two_fewer, lambda hits: hits)
    for take, changes in zip(found, otherwise, strict=True):
        heard_before(studio, take, changes, **({"findings": ()} if changes is two_fewer else {}))
    return [studio.takes.get(take.id) for take in found]


def test_every_difference_is_counted_and_what_is_shown_stays(studio: Studio, takes: list[StudioTake]) -> None:
    assert ask_again(studio) == 3
    assert [take.outcome for take in compared(studio)] == ["waiting"] * 3
    assert hear_waiting_once(studio) == 3
    assert [studio.takes.get(take.id) for take in takes] == takes
    third, second, first = compared(studio)
    n = len(heard_take_of(takes[0].heard or "").heard.hits)
    assert (first.outcome, second.outcome, third.outcome) == ("changed", "changed", "same")
    assert {(take.ear_before, take.ear_now, take.shown) for take in (first, second, third)} == {
        (EAR - 1, EAR, False)
    }
    assert (first.found.moved, first.found.added, first.found.lost, first.found.hands) == (3, 0, 0, 0)
    assert (first.found.hits_before, first.found.hits_now) == (n, n)
    told = second.found
    assert (told.added, told.lost, told.hands, told.places, told.moved) == (2, 1, 1, 0, 0)
    assert (told.hits_before, told.hits_now) == (n - 1, n)
    now = heard_take_of(
        next(each.heard or "" for each in studio.hearings.of_takes([takes[1].id], with_heard=True))
    )
    assert dict(told.findings_new) == {each.kind: 1 for each in now.findings}
    assert (third.found.weight, third.found.takes) == (0, 1)


def test_nothing_is_heard_twice_and_only_what_was_meant(studio: Studio, takes: list[StudioTake]) -> None:
    mine = Which(takes[0].student_id, date(2026, 3, 11))
    assert ask_again(studio, mine) == 1
    assert studio.hearings.take_ids() == [takes[2].id]
    assert (hear_waiting_once(studio), ask_again(studio, mine), hear_waiting_once(studio)) == (1, 0, 0)
    assert ask_again(studio) == 2
    take_over(studio, [takes[2].id])
    assert ask_again(studio) == 0
    assert [each.take_id for each in compared(studio, mine)] == [takes[2].id]


def test_versions_are_taken_over_and_back_and_corrections_are_left_alone(
    studio: Studio, takes: list[StudioTake]
) -> None:
    studio.takes.change(takes[0].id, corrected=True)
    ask_again(studio)
    hear_waiting_once(studio)
    assert take_over(studio) == (2, 1)
    assert [ear_in(studio.takes.get(take.id).heard or "") for take in takes] == [EAR - 1, EAR, EAR]
    rows = {row.take_id: row for row in compared(studio)}
    assert [rows[take.id].shown for take in takes] == [False, True, True]
    assert (rows[takes[1].id].ear_before, rows[takes[1].id].found.added) == (EAR - 1, 2)
    assert take_over(studio) == (0, 1)
    assert take_over(studio, [takes[0].id]) == (1, 0)
    assert not studio.takes.get(takes[0].id).corrected
    assert go_back(studio) == 3
    after = [studio.takes.get(take.id) for take in takes]
    assert [take.heard for take in after] == [take.heard for take in takes]
    assert [take.corrected for take in after] == [True, False, False]
    assert go_back(studio) == 0
    with pytest.raises(NotFound, match="another version of the take nobody"):
        take_over(studio, ["nobody"])


def test_a_recording_that_is_damaged_since_says_so_and_keeps_what_was_heard(
    studio: Studio, takes: list[StudioTake]
) -> None:
    studio.takes.recording(takes[0]).unlink()
    ask_again(studio)
    hear_waiting_once(studio)
    (row,) = (each for each in compared(studio) if each.take_id == takes[0].id)
    assert (row.outcome, row.found.takes) == ("failed", 0)
    assert "on the disk" in row.reason
    assert take_over(studio) == (2, 0)
    assert studio.takes.get(takes[0].id).heard == takes[0].heard


def test_a_students_archive_has_every_version(studio: Studio, takes: list[StudioTake]) -> None:
    ask_again(studio)
    hear_waiting_once(studio)
    student = studio.students.get(takes[1].student_id)
    with ZipFile(io.BytesIO(b"".join(student_archive(studio, student, NOON)))) as archive:
        names = [name for name in archive.namelist() if name.startswith("heard/")]
        (row,) = json.loads(archive.read("student.json"))["hearings"]
        newer = next(name for name in names if name.endswith(f"-ear-{EAR}.json"))
        assert ear_in(archive.read(newer)) == EAR
    assert len(names) == 2
    assert (row["ear"], row["take_id"], "heard" in row) == (EAR, takes[1].id, False)


def run(place: Place, *options: str) -> Result:
    where = [] if place.url is None else ["--database", place.url.replace("+psycopg", "")]
    return CliRunner().invoke(app, ["--data", str(place.data), *where, *options])


def test_the_command_hears_and_says_it_as_table_csv_and_json(
    place: Place, studio: Studio, takes: list[StudioTake]
) -> None:
    ask_again(studio)
    hear_waiting_once(studio)
    said = run(place, "--workers", "0")
    assert said.exit_code == 0, said.output
    assert "3 takes: 2 with differences, 1 without." in said.output
    assert "hits that moved by more than 2 ms              3 of " in said.output
    assert "What is shown is as it was" in said.output
    rows = list(csv.DictReader(io.StringIO(run(place, "--workers", "0", "--csv", "-").stdout)))
    assert tuple(rows[0]) == COLUMNS
    by_id = {row["take_id"]: row for row in rows}
    assert by_id[takes[0].id]["moved"] == "3"
    found = json.loads(run(place, "--workers", "0", "--json", "-").stdout)
    assert found["outcomes"] == {"changed": 2, "same": 1}
    assert (found["compared"]["moved"], found["compared"]["added"]) == (3, 2)
    assert len(found["takes"]) == 3
    assert "2 takes taken over" in run(place, "--take-over", takes[0].id, "--take-over", takes[1].id).output
    assert "2 takes gone back" in run(place, "--go-back", "all").output
    assert "0 takes let go" in run(place, "--stop").output


@pytest.mark.parametrize(
    ("options", "match"),
    [
        (["--student", "Nobody"], "of whom there are 0"),
        (["--since", "spring"], "--since spring"),
        (["--stop", "--take-over", "all"], "one at a time"),
    ],
)
def test_what_cannot_be_meant_is_refused(
    place: Place, studio: Studio, options: list[str], match: str
) -> None:
    assert studio.hearings.take_ids() == []
    with pytest.raises(WrongOptions, match=match):
        raise run(place, *options).exception or AssertionError


def test_workers_of_its_own_hear_it(place: Place, studio: Studio, takes: list[StudioTake]) -> None:
    """A real process, as the command starts it."""
    if not place.is_sqlite:
        pytest.skip("the same on both; tests/work/test_worker_pool.py has workers on a Postgres")
    said = run(place, "--student", "una marsh")
    assert "1 take: 1 with differences." in said.output, said.output
    assert studio.hearings.counts(EAR)["heard"] == 1
    assert studio.takes.get(takes[1].id).heard == takes[1].heard
