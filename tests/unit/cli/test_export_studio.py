"""``evenhand export-studio`` and ``import-studio`` beside each other: what one writes, the other reads."""

from __future__ import annotations

from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from evenhand.cli.studio.safekeeping import export_studio, import_studio
from evenhand.errors import BadExport, CannotWrite, StudioMissing, StudioThere
from evenhand.studio.store.studio import Studio
from tests.full_studio import fill
from tests.studios import a_studio

app = typer.Typer()
app.command("export-studio")(export_studio)
app.command("import-studio")(import_studio)


def call(*arguments: str | Path) -> str:
    """Call the command line; what it raises comes up."""
    done = CliRunner().invoke(app, [str(each) for each in arguments], catch_exceptions=False)
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Give a full studio's folder."""
    with a_studio(tmp_path) as studio:
        fill(studio)
    return tmp_path / "studio"


def test_a_studio_is_exported_and_imported(data: Path, tmp_path: Path) -> None:
    out, there = tmp_path / "kept.zip", tmp_path / "there"
    said = call("export-studio", "--data", data, "--out", out)
    assert said.startswith(f"{out}: 2 students, 3 takes, ")
    assert call("import-studio", out, "--data", there) == f"{there}: Studio Larkfield, 2 students, 3 takes.\n"
    with Studio.open(there) as again, Studio.open(data) as before:
        assert again.takes.all() == before.takes.all()


def test_without_a_folder_the_users_own_is_meant(
    data: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As for ``evenhand serve``."""
    call("export-studio", "--data", data, "--out", tmp_path / "kept.zip")
    own = tmp_path / "home" / "studio"
    monkeypatch.setattr("evenhand.cli.studio.safekeeping.data_folder", lambda: own)
    assert call("import-studio", tmp_path / "kept.zip").startswith(f"{own}: ")
    assert "3 takes" in call("export-studio", "--out", tmp_path / "again.zip")


def test_one_is_one(tmp_path: Path) -> None:
    with a_studio(tmp_path) as studio:
        studio.students.add("Ida Quill")
    said = call("export-studio", "--data", tmp_path / "studio", "--out", tmp_path / "kept.zip")
    assert "1 student, 0 takes" in said


def test_what_cannot_be_is_refused_by_name(data: Path, tmp_path: Path) -> None:
    with pytest.raises(StudioMissing, match="evenhand serve --data"):
        call("export-studio", "--data", tmp_path / "nowhere", "--out", tmp_path / "kept.zip")
    with pytest.raises(CannotWrite, match="no such folder"):
        call("export-studio", "--data", data, "--out", tmp_path / "not" / "kept.zip")
    out = tmp_path / "kept.zip"
    call("export-studio", "--data", data, "--out", out)
    with pytest.raises(StudioThere):
        call("import-studio", out, "--data", data)
    out.write_bytes(out.read_bytes()[:-100])
    with pytest.raises(BadExport, match="export-studio wrote, whole"):
        call("import-studio", out, "--data", tmp_path / "there")
    assert not (tmp_path / "there").exists()
