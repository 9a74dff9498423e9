"""Who is killed while writing what is private leaves none of it behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from evenhand.studio.safekeeping.export import export_studio, import_studio
from evenhand.studio.store.layout import part_folder, sweep_parts, whole_file
from tests.studios import a_studio

MARK = b"Zephyrine-Quillfeather"
WRITERS = {
    "export": "with whole_file(here / 'kept.zip') as file:\n  file.write(MARK * 9999); file.flush(); wait()",
    "import": "with part_folder(here, 'studio') as place:\n  (place / 'x').write_bytes(MARK); wait()",
    "web": "with TemporaryFile(dir=here) as file:\n  file.write(MARK * 9999); file.flush(); wait()",
}
HEAD = (
    "import sys, time, os\nfrom pathlib import Path\nfrom tempfile import TemporaryFile\n"
    "from evenhand.studio.store.layout import part_folder, whole_file\n"
    "here = Path(sys.argv[1]); MARK = sys.argv[2].encode()\n"
    "def wait():\n  print('there', flush=True); time.sleep(60)\n"
)


def kill_while_writing(folder: Path, writer: str, before: str = "") -> None:
    """Let another process write into a folder, and kill it there."""
    script = HEAD + before + WRITERS[writer]
    with subprocess.Popen(
        [sys.executable, "-c", script, str(folder), MARK.decode()], stdout=subprocess.PIPE
    ) as process:
        assert process.stdout is not None
        assert process.stdout.readline() == b"there\n"
        process.send_signal(signal.SIGKILL)


def has_mark(folder: Path) -> bool:
    return any(MARK in file.read_bytes() for file in folder.rglob("*") if file.is_file())


@pytest.mark.skipif(not hasattr(os, "O_TMPFILE"), reason="files without a name are Linux's")
@pytest.mark.parametrize("writer", ["export", "web"])
def test_a_killed_export_leaves_nothing(tmp_path: Path, writer: str) -> None:
    kill_while_writing(tmp_path, writer)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("writer", "before"), [("import", ""), ("export", "del os.O_TMPFILE\n")], ids=["import", "export"]
)
def test_where_a_file_has_a_name_the_next_writer_removes_it(tmp_path: Path, writer: str, before: str) -> None:
    """A folder always has one; a file has one on systems other than Linux."""
    if before and not hasattr(os, "O_TMPFILE"):
        before = ""
    kill_while_writing(tmp_path, writer, before)
    assert has_mark(tmp_path)
    with whole_file(tmp_path / "next.zip") as file:
        file.write(b"next")
    assert [each.name for each in tmp_path.iterdir()] == ["next.zip"]


def test_what_somebody_still_writes_is_left_alone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    if hasattr(os, "O_TMPFILE"):
        monkeypatch.delattr(os, "O_TMPFILE")
    stranger = tmp_path / ".report.part"
    stranger.write_bytes(b"another program's")
    with whole_file(tmp_path / "kept.zip") as file, part_folder(tmp_path, "studio") as folder:
        file.write(b"whole")
        (folder / "x").write_bytes(b"x")
        assert sweep_parts(tmp_path) == 0
        assert (folder / "x").exists()
    assert sorted(each.name for each in tmp_path.iterdir()) == [".report.part", "kept.zip"]
    assert (tmp_path / "kept.zip").read_bytes() == b"whole"


def test_an_export_that_replaces_another_does_so_whole(tmp_path: Path) -> None:
    (tmp_path / "kept.zip").write_bytes(b"the one before")

    def broken() -> None:
        with whole_file(tmp_path / "kept.zip") as file:
            file.write(b"half")
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        broken()
    assert (tmp_path / "kept.zip").read_bytes() == b"the one before"
    assert len(list(tmp_path.iterdir())) == 1


def test_an_import_removes_what_a_killed_one_left(tmp_path: Path) -> None:
    (tmp_path / "of").mkdir()
    with a_studio(tmp_path / "of") as studio:
        export_studio(studio, tmp_path / "kept.zip")
    kill_while_writing(tmp_path, "import")
    assert has_mark(tmp_path)
    import_studio(tmp_path / "kept.zip", tmp_path / "studio").close()
    assert not has_mark(tmp_path)
