"""Files of music are told by what is in them, unpacked with care, and refused in one line."""

from __future__ import annotations

import struct
import zipfile
from pathlib import Path

import pytest

from evenhand.acts.exercises import opened as scores
from evenhand.acts.exercises.opened import MOST_BYTES, open_score
from evenhand.errors import UnreadableScore
from evenhand.music.formats.musicxml.read import read_musicxml
from tests.media_files import a_midi, end, note_on
from tests.score_files import a_container, a_score, attributes, notes, packed

SCORE = a_score(attributes() + notes("RLRR", 4, "quarter"))


def kept(tmp_path: Path, content: bytes, name: str = "x.musicxml") -> Path:
    path = tmp_path / name
    path.write_bytes(content)
    return path


@pytest.mark.parametrize(
    ("name", "content", "form"),
    [
        ("a.musicxml", SCORE, "musicxml"),
        ("b.mid", SCORE, "musicxml"),  # whatever its name says
        ("c.xml", b"\xef\xbb\xbf\n" + SCORE, "musicxml"),
        ("d.xml", SCORE.decode().replace('encoding="UTF-8"', "").encode("utf-16"), "musicxml"),
        ("e.mid", a_midi(note_on(0) + end()), "midi"),
        ("f.xml", a_midi(note_on(0) + end()), "midi"),
    ],
)
def test_a_file_is_told_by_its_first_bytes(tmp_path: Path, name: str, content: bytes, form: str) -> None:
    opened = open_score(kept(tmp_path, content, name))
    assert (opened.name, opened.form, opened.content) == (name, form, content)


@pytest.mark.parametrize(
    "files",
    [
        {"META-INF/container.xml": a_container("in/score.xml"), "other.xml": b"<x/>", "in/score.xml": SCORE},
        {"META-INF/container.xml": b"<container/>", "score.musicxml": SCORE},
        {"META-INF/container.xml": a_container("gone.xml"), "score.xml": SCORE},
        {"mimetype": b"application/vnd.recordare.musicxml", "score.xml": SCORE},
    ],
)
def test_a_packed_score_is_found_by_its_container_or_its_name(
    tmp_path: Path, files: dict[str, bytes]
) -> None:
    opened = open_score(kept(tmp_path, packed(files), "a.mxl"))
    assert (opened.form, opened.content) == ("musicxml", SCORE)
    assert len(read_musicxml(opened.content).entries) == 1


def refusal(path: Path) -> str:
    with pytest.raises(UnreadableScore) as refused:
        open_score(path)
    assert "\n" not in str(refused.value)
    return str(refused.value)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "an empty file"),
        (b"\0\1\2\3 and so on", "no music that can be read, whatever its name says"),
        (b"\x89PNG\r\n\x1a\n\0\0", "a picture (PNG)"),
        (b"%PDF-1.7\n", "a PDF"),
        (b"RIFF\0\0\0\0WEBPVP8 ", "a picture (WebP)"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'/>", "a picture (SVG)"),
        (packed({"a.txt": b"R"}), "a packed file without a score in it"),
        (packed({"score.xml": SCORE})[:-40], "a packed score that is damaged or cut off"),
        (packed({"score.xml": b"R"}), "text, whatever its name says"),
    ],
)
def test_what_holds_no_music_is_refused(tmp_path: Path, content: bytes, said: str) -> None:
    assert refusal(kept(tmp_path, content)).startswith(f"x.musicxml: {said}. ")


def test_missing_files_and_folders(tmp_path: Path) -> None:
    assert refusal(tmp_path / "gone.mid").startswith("gone.mid: there is no such file. ")
    assert "a folder" in refusal(tmp_path)
    assert "no regular file" in refusal(Path("/dev/null"))


@pytest.fixture
def small_limit(monkeypatch: pytest.MonkeyPatch) -> int:
    """Set the limit so low that a test need not make 32 MB."""
    monkeypatch.setattr(scores, "MOST_BYTES", 1 << 20)
    return 1 << 20


def test_a_packed_file_that_grows_without_end_is_refused(tmp_path: Path, small_limit: int) -> None:
    """Zeros pack to a thousandth; nothing more than the limit is unpacked, and none of it to disk."""
    with zipfile.ZipFile(tmp_path / "bomb.mxl", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("score.xml", b"<" + bytes(small_limit))
    assert (tmp_path / "bomb.mxl").stat().st_size < small_limit / 500
    assert "larger than 1 MB" in refusal(tmp_path / "bomb.mxl")


def test_a_header_that_lies_about_the_size_gets_around_no_limit(tmp_path: Path, small_limit: int) -> None:
    content = bytearray(packed({"score.xml": b"<" + bytes(small_limit)}))
    at = content.index(b"PK\x01\x02")
    struct.pack_into("<I", content, at + 24, 100)  # the size that the directory promises
    assert refusal(kept(tmp_path, bytes(content), "liar.mxl")).startswith("liar.mxl: ")


def test_too_many_packed_files_are_refused(tmp_path: Path) -> None:
    many = packed({f"{k}.xml": b"<a/>" for k in range(1001)})
    assert "larger than" in refusal(kept(tmp_path, many))


def test_a_container_with_entities_is_refused(tmp_path: Path) -> None:
    container = b'<!DOCTYPE c [<!ENTITY a "b">]><container/>'
    assert "damaged" in refusal(kept(tmp_path, packed({"META-INF/container.xml": container, "s.xml": SCORE})))


def test_a_large_file_is_refused_before_it_is_read_whole(tmp_path: Path) -> None:
    path = tmp_path / "large.xml"
    with path.open("wb") as opened:
        opened.truncate(MOST_BYTES + 2)
    assert "larger than 32 MB" in refusal(path)
