"""Results are written whole or not at all, and a wrong place is known before the work."""

from __future__ import annotations

from pathlib import Path

import pytest

from evenhand.cli.files import STDOUT, check_place, make_folder, write_text
from evenhand.errors import CannotWrite


def test_text_is_written_with_plain_line_ends(tmp_path: Path) -> None:
    write_text(tmp_path / "a.json", "µ\n")
    assert (tmp_path / "a.json").read_bytes() == b"\xc2\xb5\n"
    assert [path.name for path in tmp_path.iterdir()] == ["a.json"]


def test_a_dash_is_stdout(capsys: pytest.CaptureFixture[str]) -> None:
    check_place(STDOUT)
    write_text(STDOUT, "{}\n")
    assert capsys.readouterr().out == "{}\n"


def test_what_cannot_be_written_leaves_what_was_there(tmp_path: Path) -> None:
    folder = tmp_path / "taken"
    folder.mkdir()
    with pytest.raises(CannotWrite, match="taken: cannot be written"):
        write_text(folder, "x")
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
