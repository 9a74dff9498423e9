"""What is lost comes back by the commands that docs/running.md names; the drill would see if it did not."""

from __future__ import annotations

import subprocess
import tempfile
from pathlib import Path

import pytest

from proof.drill import DEPLOY, lost, machine_drill, play, rows_of, school_drill
from tests.postgres import programs
from tests.studios import a_studio


def test_a_school_comes_back_as_it_was_at_a_moment() -> None:
    if programs() is None:
        pytest.skip("Postgres is not installed")
    with tempfile.TemporaryDirectory() as folder:  # pytest's own are closed to Postgres' user
        found = school_drill(Path(folder), 2)
    assert (found.takes, found.rows, found.recordings) == (4, 0, 0)


def test_a_studio_of_one_machine_comes_back(tmp_path: Path) -> None:
    found = machine_drill(tmp_path, 2)
    assert (found.takes, found.rows, found.recordings) == (2, 0, 0)


def test_the_drill_sees_what_is_missing(tmp_path: Path) -> None:
    with a_studio(tmp_path) as studio:
        play(studio, 2)
        before = rows_of(studio)
        assert lost("nothing", before, studio).is_well
        (first, _) = studio.takes.all()
        path = studio.data.recordings.path(first.recording or "")
        path.write_bytes(path.read_bytes()[:-1])
        assert lost("a recording", before, studio).recordings == 1
        studio.takes.delete(first.id)
        found = lost("a row", before, studio)
    assert not found.is_well
    assert found.rows > 0


@pytest.mark.parametrize(
    ("command", "says"),
    [
        (["school-backup"], "got 0 arguments; must be one"),
        (["school-backup", "."], "without log/ in it"),
        (["school-restore", "."], "got 1 arguments; must be BASE LOG NEW"),
        (["school-restore", ".", ".", "new"], "must be a base backup"),
    ],
)
def test_what_is_no_backup_is_refused(command: list[str], says: str, tmp_path: Path) -> None:
    done = subprocess.run(
        [str(DEPLOY / command[0]), *command[1:]], capture_output=True, text=True, check=False, cwd=tmp_path
    )
    assert done.returncode == 2
    assert says in done.stderr
    assert not list(tmp_path.iterdir())
