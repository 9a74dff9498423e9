"""A folder of recordings: heard once each, to files or into a studio, and gone on with where it broke off."""

from __future__ import annotations

import csv
import json
import subprocess
import sys
import time
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from evenhand.acts.takes.folder import COLUMNS, JOURNAL, TABLE, folder_takes, read_folder_list
from evenhand.acts.takes.request import TakeRequest
from evenhand.cli.main import command_line
from evenhand.errors import BadList, WrongOptions
from evenhand.studio.store.studio import Studio
from evenhand.studio.whole.folder import take_in
from evenhand.studio.work.pool import hear_waiting_once
from tests.places import Place
from tests.sounds import EXERCISE, TEMPO, a_recording

HEADING = "file,exercise,tempo,student,stroke,recorded"


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Give a folder of three recordings and a text that says it is one."""
    place = tmp_path / "came"
    place.mkdir()
    for k in range(3):
        (place / f"take-{k}.wav").write_bytes(a_recording(seed=k))
    (place / "text.wav").write_text("no sound")
    rows = [
        f"take-0.wav,{EXERCISE},{TEMPO},Ida Quill,full,2026-02-10",
        f"take-1.wav,{EXERCISE},{TEMPO},una marsh,,2026-02-11T17:30:00+01:00",
        f"take-2.wav,{EXERCISE},{TEMPO},Ida Quill,,",
        f"text.wav,{EXERCISE},{TEMPO},Ida Quill,,",
    ]
    (place / "list.csv").write_text("\n".join([HEADING, *rows]) + "\n")
    return place


def run(*arguments: str) -> Result:
    return CliRunner().invoke(command_line("hear-folder"), ["hear-folder", *arguments])


def lines(out: Path) -> int:
    return len((out / JOURNAL).read_text().splitlines())


def test_each_is_heard_once_and_a_table_has_all(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    said = run(str(folder), "--out", str(out), "--jobs", "2")
    assert said.exit_code == 3
    assert "3 of 4 takes heard" in said.output
    assert "text.wav: text, whatever its name says" in said.output
    with (out / TABLE).open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert tuple(rows[0]) == COLUMNS
    assert [(row["file"], row["student"], row["status"]) for row in rows] == [
        ("take-0.wav", "Ida Quill", "heard"),
        ("take-1.wav", "una marsh", "heard"),
        ("take-2.wav", "Ida Quill", "heard"),
        ("text.wav", "Ida Quill", "failed"),
    ]
    stored = json.loads((out / "take-0.json").read_text("utf-8"))
    assert int(rows[0]["hits"]) == len(stored["hits"])
    assert float(rows[0]["hands_R_timing_sd_ms"]) == stored["hands"]["R"]["timing_sd_ms"]["value"]
    before = lines(out), (out / "take-0.json").stat().st_mtime_ns
    said = run(str(folder), "--out", str(out))
    assert "4 takes of an earlier run; 0 to be heard" in said.output
    assert (lines(out), (out / "take-0.json").stat().st_mtime_ns) == before


def test_what_is_new_or_changed_or_lost_is_heard_and_a_line_cut_short_is_passed_over(
    folder: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    run(str(folder), "--out", str(out))
    with (out / JOURNAL).open("a") as file:
        file.write('{"key": "take')
    (folder / "take-0.wav").write_bytes(a_recording(seed=7))
    (out / "take-1.json").unlink()
    (folder / "text.wav").write_bytes(a_recording(seed=8))
    said = run(str(folder), "--out", str(out))
    assert "1 take of an earlier run; 3 to be heard" in said.output
    assert said.exit_code == 0
    assert "4 takes of an earlier run; 0 to be heard" in run(str(folder), "--out", str(out)).output
    assert "earlier run" not in run(str(folder), "--out", str(out), "--afresh").output


@pytest.mark.skipif(sys.platform != "linux", reason="children are looked up in /proc")
def test_killed_it_goes_on_and_hears_nothing_twice(folder: Path, tmp_path: Path) -> None:
    out, many = tmp_path / "out", 24
    for k in range(many):
        (folder / f"more-{k}.wav").write_bytes(a_recording(seed=k % 3))
    (folder / "list.csv").unlink()
    of_one = ["--exercise", EXERCISE, "--tempo", TEMPO]
    what = ["hear-folder", str(folder), "--out", str(out), "--jobs", "1", *of_one]
    process = subprocess.Popen([sys.executable, "-m", "evenhand", *what])
    while not (out / JOURNAL).exists() or lines(out) < 4:
        assert process.poll() is None
        time.sleep(0.02)
    children = children_of(process.pid)
    assert children
    process.kill()
    process.wait()
    wait_until_gone(children)
    whole = {path.name: path.stat().st_mtime_ns for path in out.glob("[mt]*.json")}
    done = lines(out)
    assert 4 <= done < many + 4
    said = run(*what[1:])
    assert f"{done} takes of an earlier run; {many + 4 - done} to be heard" in said.output
    keys = [json.loads(line)["key"] for line in (out / JOURNAL).read_text().splitlines()]
    assert len(keys) == len(set(keys)) == many + 4
    again = [name for name, at in whole.items() if (out / name).stat().st_mtime_ns != at]
    assert len(again) <= 1  # written, and not noted yet when the kill came


def children_of(pid: int) -> list[int]:
    return [int(child) for child in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def wait_until_gone(pids: list[int]) -> None:
    """Without that, each kill leaves processes behind that wait for ever."""
    for _ in range(600):
        if not any(Path(f"/proc/{pid}").exists() for pid in pids):
            return
        time.sleep(0.05)
    raise AssertionError([pid for pid in pids if Path(f"/proc/{pid}").exists()])


@pytest.mark.parametrize(
    ("row", "match"),
    [
        ("take-0.wav,1/8: RL,1/8=90,Ida,flat,", "column stroke"),
        ("take-0.wav,1/8: RL,1/8=90,Ida,,spring", "column recorded"),
        ("take-0.wav,1/8: RQ,1/8=90,Ida,,", "column exercise"),
        ("", "no takes"),
    ],
)
def test_a_list_that_cannot_be_read_names_row_and_column(row: str, match: str) -> None:
    with pytest.raises(BadList, match=match):
        read_folder_list(f"{HEADING}\n{row}\n", name="list.csv", folder=Path())


def test_a_folder_without_a_list_is_of_one_exercise_or_blind(folder: Path) -> None:
    found = folder_takes(folder, TakeRequest())
    assert [take.listed.path.name for take in found] == ["take-0.wav", "take-1.wav", "take-2.wav", "text.wav"]


@pytest.mark.parametrize("options", [[], ["--out", "x", "--data", "y"]])
def test_where_it_goes_is_said_once(folder: Path, options: list[str]) -> None:
    with pytest.raises(WrongOptions, match="one of them: files, or takes"):
        raise run(str(folder), *options).exception or AssertionError


# Into a studio.


def test_a_folder_comes_into_the_studio_once_behind_whoever_practises(
    place: Place, studio: Studio, folder: Path
) -> None:
    ida, una = studio.students.add("Ida Quill"), studio.students.add("Una Marsh")
    found = read_folder_list((folder / "list.csv").read_text(), name="list.csv", folder=folder)
    ids, new = take_in(studio, found)
    assert (len(ids), new) == (4, 4)
    first = studio.takes.get(ids[0])
    assert (first.student_id, first.stroke) == (ida.id, "full")
    assert (first.source, first.urgency) == ("upload", "batch")
    assert first.recorded_at.astimezone().date().isoformat() == "2026-02-10"
    assert studio.takes.get(ids[1]).student_id == una.id
    assert take_in(studio, found) == (ids, 0)
    assert hear_waiting_once(studio) == 4
    where = [] if place.url is None else ["--database", place.url.replace("+psycopg", "")]
    said = run(str(folder), "--data", str(place.data), *where, "--workers", "0")
    assert "0 of 4 takes new in the studio" in said.output
    assert "3 of 4 takes heard; they are with their students" in said.output
    assert "text.wav" in said.output
    assert said.exit_code == 3


def test_nothing_comes_in_where_a_row_names_nobody_or_who_may_not_be_recorded(
    studio: Studio, folder: Path
) -> None:
    found = read_folder_list((folder / "list.csv").read_text(), name="list.csv", folder=folder)
    ida = studio.students.add("Ida Quill", minor=True)
    with pytest.raises(BadList, match=r"row 2: got Ida Quill, who is under age"):
        take_in(studio, found)
    studio.students.change(ida.id, consent_by="R. Quill")
    with pytest.raises(BadList, match=r"row 3: got the student 'una marsh', of whom there are 0"):
        take_in(studio, found)
    studio.students.add("Una Marsh")
    (folder / "take-2.wav").unlink()
    with pytest.raises(BadList, match=r"row 4: got take-2.wav, which is not there"):
        take_in(studio, found)
    assert studio.takes.all() == []
