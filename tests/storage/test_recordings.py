"""The folder of recordings: by content, whole or not at all."""

from __future__ import annotations

import hashlib
import os
import stat
from pathlib import Path

import pytest

from evenhand.errors import DiskFull, NotFound
from evenhand.studio.store.recordings import Recordings

SOUND = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(100)


@pytest.fixture
def recordings(tmp_path: Path) -> Recordings:
    """Give an empty folder of recordings."""
    made = Recordings(tmp_path / "recordings")
    made.make()
    return made


def files(recordings: Recordings) -> list[str]:
    return [path.name for path in recordings.folder.rglob("*") if path.is_file()]


def test_the_key_is_the_contents_sha256(recordings: Recordings) -> None:
    key = recordings.add(SOUND)
    digest = hashlib.sha256(SOUND).hexdigest()
    assert key == f"{digest[:2]}/{digest}.wav"
    assert recordings.path(key).read_bytes() == SOUND
    assert list(recordings.kept_keys()) == [key]


def test_the_same_bytes_are_kept_once(recordings: Recordings, tmp_path: Path) -> None:
    elsewhere = tmp_path / "take.mp3"
    elsewhere.write_bytes(SOUND)
    assert recordings.add(SOUND) == recordings.add(elsewhere)
    assert len(files(recordings)) == 1
    assert elsewhere.exists()


@pytest.mark.parametrize(
    ("head", "suffix"),
    [
        (b"fLaC\x00\x00\x00\x22", ".flac"),
        (b"RIFF....WAVEfmt ", ".wav"),
        (b"OggS\x00\x02", ".ogg"),
        (b"\x1aE\xdf\xa3\x9fB\x86\x81", ".webm"),
        (b"\x00\x00\x00\x20ftypM4A ", ".m4a"),
        (b"\x00\x00\x00\x20ftypisom", ".mp4"),
        (b"MThd\x00\x00\x00\x06", ".mid"),
        (b"#!/bin/sh\n", ".bin"),
        (b"", ".bin"),
    ],
)
def test_the_suffix_comes_from_the_bytes(recordings: Recordings, head: bytes, suffix: str) -> None:
    """Magic numbers as the formats' own documents give them; from memory."""
    assert recordings.add(head).endswith(suffix)


@pytest.mark.parametrize(
    "key", ["", "..", "../studio.sqlite", "/etc/passwd", "ab/../../x", "ab/" + "0" * 64, "ab/ab" + "0" * 62]
)
def test_what_is_no_key_leads_nowhere(recordings: Recordings, key: str) -> None:
    for act in (recordings.path, recordings.has, recordings.remove):
        with pytest.raises(NotFound):
            act(key)


def test_a_file_that_cannot_be_finished_leaves_nothing(
    recordings: Recordings, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_handle: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(DiskFull, match="no room on the disk"):
        recordings.add(SOUND)
    assert files(recordings) == []


def test_what_is_added_is_synced_before_it_has_its_name_and_its_folder_after(
    recordings: Recordings, monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that a power cut leaves the whole file or none: file, new folder's parent, folder."""
    synced: list[tuple[bool, int]] = []
    fsync = os.fsync

    def noted(handle: int) -> None:
        synced.append((stat.S_ISDIR(os.fstat(handle).st_mode), len(list(recordings.kept_keys()))))
        fsync(handle)

    monkeypatch.setattr(os, "fsync", noted)
    recordings.add(SOUND)
    assert synced == [(False, 0), (True, 0), (True, 1)]


def test_unfinished_files_are_swept_when_they_are_old(recordings: Recordings) -> None:
    old, young = (recordings.folder / "unfinished" / name for name in ("old", "young"))
    old.write_bytes(SOUND)
    young.write_bytes(SOUND)
    os.utime(old, (0, 0))
    assert recordings.sweep_unfinished() == 1
    assert files(recordings) == ["young"]


def test_an_unfinished_file_is_gone_after_its_use(recordings: Recordings) -> None:
    with recordings.unfinished() as place:
        place.write_bytes(SOUND)
        assert files(recordings) == [place.name]
    assert files(recordings) == []
