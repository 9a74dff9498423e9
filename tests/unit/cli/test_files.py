"""Results are written whole or not at all, and a wrong place is known before the work."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from evenhand.cli.results import STDOUT, check_place, check_places, make_folder, write
from evenhand.errors import CannotWrite, WrongOptions


def test_text_is_written_with_plain_line_ends(tmp_path: Path) -> None:
    write(tmp_path / "a.json", "µ\n")
    assert (tmp_path / "a.json").read_bytes() == b"\xc2\xb5\n"
    assert [path.name for path in tmp_path.iterdir()] == ["a.json"]


def test_a_dash_is_stdout(capsys: pytest.CaptureFixture[str]) -> None:
    check_place(STDOUT)
    write(STDOUT, "{}\n")
    assert capsys.readouterr().out == "{}\n"


def test_what_cannot_be_written_leaves_what_was_there(tmp_path: Path) -> None:
    folder = tmp_path / "taken"
    folder.mkdir()
    with pytest.raises(CannotWrite, match="taken: cannot be written"):
        write(folder, "x")
    assert [path.name for path in tmp_path.iterdir()] == ["taken"]


def test_wrong_places_are_refused_at_once(tmp_path: Path) -> None:
    with pytest.raises(CannotWrite, match="it is a folder"):
        check_place(tmp_path)
    with pytest.raises(CannotWrite, match="there is no such folder"):
        check_place(tmp_path / "no" / "a.json")
    check_place(tmp_path / "a.json")
    check_place(None)


def test_a_folder_is_made_with_those_above_it(tmp_path: Path) -> None:
    make_folder(tmp_path / "a" / "b")
    make_folder(tmp_path / "a" / "b")
    assert (tmp_path / "a" / "b").is_dir()
    (tmp_path / "file").touch()
    with pytest.raises(CannotWrite, match="file"):
        make_folder(tmp_path / "file" / "b")


def test_what_is_read_is_not_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """However the same file is named: by another path, or by a link."""
    monkeypatch.chdir(tmp_path)
    Path("take.wav").write_bytes(b"RIFF")
    Path("link.wav").symlink_to("take.wav")
    for place in (Path("take.wav"), tmp_path / "take.wav", Path("link.wav")):
        with pytest.raises(WrongOptions, match="which is read"):
            check_places(None, place, reads=(None, Path("take.wav")))
    check_places(Path("take.json"), STDOUT, reads=(Path("take.wav"),))


def test_two_results_need_two_places(tmp_path: Path) -> None:
    with pytest.raises(WrongOptions, match="the place of two results"):
        check_places(tmp_path / "a", tmp_path / "." / "a")
    with pytest.raises(WrongOptions, match="the place of two results"):
        check_places(STDOUT, None, STDOUT)


def test_a_pipe_is_written_into_and_not_put_away(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write(pipe, "{}")
        assert os.read(reader, 10) == b"{}"
    finally:
        os.close(reader)
    assert pipe.is_fifo()
