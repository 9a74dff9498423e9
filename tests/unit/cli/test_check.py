"""``evenhand check`` and ``serve`` where a studio is not well: what is said, and the exit code."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.cli.main import run
from evenhand.studio.store.layout import DATABASE
from evenhand.studio.store.studio import Studio
from tests.studios import a_new_take, a_studio

WAV = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(60)
N = 30


@pytest.fixture
def data(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Give the folder of a studio with takes."""
    monkeypatch.setenv("EVENHAND_PASSWORD", "rim and shoulder")
    with a_studio(tmp_path) as studio:
        ida = studio.students.add("Ida Quill")
        for k in range(N):
            studio.takes.receive(a_new_take(ida.id, f"key-{k}"), WAV + bytes([k]))
    return tmp_path / "studio"


def recordings(data: Path) -> list[Path]:
    return sorted((data / "recordings").rglob("*.wav"))


def lines(capsys: pytest.CaptureFixture[str]) -> tuple[list[str], list[str]]:
    said = capsys.readouterr()
    return said.out.splitlines(), said.err.splitlines()


def test_a_studio_that_is_well_says_so(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["check", "--data", str(data)]) == 0
    out, err = lines(capsys)
    assert out[0].startswith(f"{data}: Studio Larkfield, 1 student, {N} takes, {N} recordings, ")
    assert out[-1] == "Every take has its recording, as it came in."
    assert err == []


def test_serve_makes_no_new_studio_where_recordings_lie(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """``studio.sqlite`` is gone: the start says what to do, and every recording is where it was."""
    for file in data.glob(f"{DATABASE}*"):
        file.unlink()
    before = recordings(data)
    assert run(["serve", "--data", str(data), "--port", "0"]) == 2
    out, err = lines(capsys)
    assert out == []
    assert len(err) == 1
    assert f"{N} recordings lie here" in err[0]
    assert f"evenhand check --data {data} --repair" in err[0]
    assert (recordings(data), (data / DATABASE).exists()) == (before, False)
    assert run(["check", "--data", str(data)]) == 2


def test_a_studio_is_made_of_recordings_by_repairing(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for file in data.glob(f"{DATABASE}*"):
        file.unlink()
    assert run(["check", "--data", str(data), "--repair"]) == 0
    out, _ = lines(capsys)
    assert out[0] == f"{data}: a new database is made for {N} recordings."
    assert out[1].startswith(f"{N} takes made again from recordings, 0 of them without a student;")
    with Studio.open(data) as studio:
        assert [each.name for each in studio.students.all()] == ["Ida Quill"]
        assert studio.queue.counts()["waiting"] == N


@pytest.mark.parametrize("command", [["serve", "--port", "0"], ["check"]], ids=["serve", "check"])
def test_a_garbled_database_is_one_line_with_advice(
    data: Path, capsys: pytest.CaptureFixture[str], command: list[str]
) -> None:
    (data / DATABASE).write_bytes(b"garbled " * 4000)
    assert run([*command, "--data", str(data)]) == 3
    out, err = lines(capsys)
    assert out == []
    assert len(err) == 1
    assert "the studio's database is damaged" in err[0]
    assert "DatabaseError" not in err[0]
    assert f"evenhand restore BACKUP --data {data}" in err[0]
    assert len(recordings(data)) == N


def test_a_garbled_database_is_set_aside_and_made_anew(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (data / DATABASE).write_bytes(b"garbled " * 4000)
    assert run(["check", "--data", str(data), "--repair"]) == 0
    out, _ = lines(capsys)
    assert out[0].startswith("The damaged database is set aside in ")
    (kept,) = data.glob(f"set-aside/*-damaged-database/{DATABASE}")
    assert kept.read_bytes() == b"garbled " * 4000
    with Studio.open(data) as studio:
        assert studio.queue.counts()["waiting"] == N


def test_what_is_missing_and_damaged_is_listed(data: Path, capsys: pytest.CaptureFixture[str]) -> None:
    missing, damaged, *_ = recordings(data)
    missing.unlink()
    damaged.write_bytes(bytes(64))
    assert run(["check", "--data", str(data)]) == 3
    out, _ = lines(capsys)
    said = sorted(line for line in out if line.startswith(("Missing", "Damaged")))
    assert [line.split(": ")[0] for line in said] == ["Damaged", "Missing"]
    assert all("Ida Quill, 2026-03-02" in line for line in said)
    assert damaged.name in said[0]
    assert missing.name in said[1]


def test_what_was_set_aside_is_listed_with_its_last_day(
    data: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Studio.open(data) as studio:
        with studio.data.database.writing() as connection:
            connection.exec_driver_sql("DELETE FROM takes")
        studio.data.sweep()
    assert run(["check", "--data", str(data)]) == 3
    out, _ = lines(capsys)
    assert any(line.startswith("Set aside, kept until ") and f"{N} recordings in" in line for line in out)
    assert any(line.startswith(f"Without a take: {N} recordings.") for line in out)
    assert len(list(data.glob("set-aside/*/*/*.wav"))) == N
    assert run(["check", "--data", str(data), "--repair"]) == 0
    assert len(recordings(data)) == N


def test_a_studio_is_backed_up_and_put_back(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With the database garbled since, and a take that is newer than the backup."""
    out = tmp_path / "kept.zip"
    assert run(["backup", "--data", str(data), "--out", str(out)]) == 0
    said, _ = lines(capsys)
    assert said[0].startswith(f"{out}: 1 student, {N} takes, {N} recordings, ")
    with Studio.open(data) as studio:
        studio.takes.receive(a_new_take(studio.students.all()[0].id, "newer"), WAV + b"newer")
        assert run(["restore", str(out), "--data", str(data)]) == 2
    _, err = lines(capsys)
    assert err == [f"evenhand: {data}: the studio is open. End evenhand serve, then try again."]
    (data / DATABASE).write_bytes(b"garbled " * 4000)
    assert run(["restore", str(out), "--data", str(data)]) == 0
    said, err = lines(capsys)
    assert said[0].startswith(f"{data}: Studio Larkfield, 1 student, {N} takes, as of 2026-")
    assert said[1].startswith("The database that was there before is set aside in ")
    assert said[2].startswith("Not in the backup: 1 recording. evenhand check --data ")
    assert err == []
    assert run(["check", "--data", str(data), "--repair"]) == 0
    with Studio.open(data) as studio:
        assert len(studio.takes.all()) == N + 1


def test_a_backup_that_is_none_is_one_line(
    data: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "kept.zip").write_bytes(b"no zip")
    assert run(["restore", str(tmp_path / "kept.zip"), "--data", str(data)]) == 2
    _, err = lines(capsys)
    assert len(err) == 1
    assert "It must be a file that evenhand backup wrote, whole." in err[0]
    assert run(["check", "--data", str(data)]) == 0
