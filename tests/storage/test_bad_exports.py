"""What is no whole export is refused, and nothing is left behind."""

from __future__ import annotations

import copy
import hashlib
import json
import random
import zipfile
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from evenhand.errors import BadExport, DiskFull, EvenhandError
from evenhand.studio.safekeeping.export import export_studio, import_studio
from tests.full_studio import fill
from tests.studios import a_studio

Members = dict[str, bytes]


@pytest.fixture(scope="module")
def good(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Give an export's bytes."""
    folder = tmp_path_factory.mktemp("export")
    with a_studio(folder) as studio:
        fill(studio)
        export_studio(studio, folder / "studio.zip")
    return (folder / "studio.zip").read_bytes()


@pytest.fixture
def members(good: bytes, tmp_path: Path) -> Members:
    """Give an export's members."""
    path = tmp_path / "good.zip"
    path.write_bytes(good)
    with zipfile.ZipFile(path) as archive:
        found = {name: archive.read(name) for name in archive.namelist()}
    path.unlink()
    return found


def signed(members: Members) -> Members:
    """Write a manifest that fits, as somebody would who knows the form."""
    rest = {name: data for name, data in members.items() if name != "manifest.json"}
    listed = {
        name: {"sha256": hashlib.sha256(data).hexdigest(), "bytes": len(data)} for name, data in rest.items()
    }
    manifest = {**json.loads(members["manifest.json"]), "members": listed}
    return {**rest, "manifest.json": json.dumps(manifest).encode()}


def zipped(path: Path, members: Members) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return path


def refused(path: Path, match: str, kind: type[EvenhandError] = BadExport) -> None:
    """Let a file be refused, and the folder be as it was."""
    folder = path.parent
    before = sorted(folder.rglob("*"))
    with pytest.raises(kind, match=match):
        import_studio(path, folder / "there")
    assert sorted(folder.rglob("*")) == before


def with_rows(members: Members, table: str, change: Callable[[list[dict[str, Any]]], object]) -> Members:
    """Change a table's rows, and sign."""
    rows = json.loads(members[f"data/{table}.json"])
    change(rows)
    return signed({**members, f"data/{table}.json": json.dumps(rows).encode()})


def test_the_members_zipped_again_are_still_an_export(tmp_path: Path, members: Members) -> None:
    """Else the tests below would show nothing."""
    with import_studio(zipped(tmp_path / "x.zip", signed(members)), tmp_path / "there") as studio:
        assert len(studio.takes.all()) == 3


@pytest.mark.parametrize("data", [b"", b"PK", b"no zip at all" * 100, b"fLaC" + bytes(1000)])
def test_what_is_no_zip(tmp_path: Path, data: bytes) -> None:
    (tmp_path / "x.zip").write_bytes(data)
    refused(tmp_path / "x.zip", "not a zip file")


def test_what_is_not_there(tmp_path: Path) -> None:
    refused(tmp_path / "x.zip", "no such file")


def test_a_file_cut_short_anywhere(tmp_path: Path, good: bytes) -> None:
    for share in (0.01, 0.3, 0.7, 0.99, 1.0):
        (tmp_path / "x.zip").write_bytes(good[: int(len(good) * share) - 1])
        refused(tmp_path / "x.zip", "x.zip: ")


def test_a_file_with_a_byte_changed_anywhere_is_refused_or_reads_the_same(
    tmp_path: Path, good: bytes
) -> None:
    """Seeded; what is not checked by a hash is a zip's own bookkeeping, such as a member's moment."""
    rng = random.Random(5)  # noqa: S311 - no secret
    path, n_refused = tmp_path / "x.zip", 0
    for number in range(20):
        bad = bytearray(good)
        bad[rng.randrange(len(bad))] ^= 1 << rng.randrange(8)
        path.write_bytes(bad)
        try:
            with import_studio(path, tmp_path / f"there-{number}") as studio:
                assert len(studio.takes.all()) == 3
        except BadExport:
            n_refused += 1
            assert not (tmp_path / f"there-{number}").exists()
    assert n_refused > 10
    assert [name.name for name in tmp_path.iterdir() if name.name.startswith(".")] == []


@pytest.mark.parametrize(
    "name",
    [
        "../outside.json",
        "/outside.json",
        "data/../../outside.json",
        "heard/../../outside.json",
        "recordings/../outside.flac",
        "recordings/ab/" + "0" * 64 + ".flac",
        "C:\\outside.json",
        "data/extra.json",
        "recordings/",
    ],
)
def test_a_member_that_leads_out_or_has_no_business_there(
    tmp_path: Path, members: Members, name: str
) -> None:
    refused(zipped(tmp_path / "x.zip", signed({**members, name: b"[]"})), "a member is called")


def test_a_member_twice(tmp_path: Path, members: Members) -> None:
    path = zipped(tmp_path / "x.zip", members)
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(path, "a") as archive:
        archive.writestr("data/takes.json", b"[]")
    refused(path, "in it twice")


def test_a_bomb_is_not_unpacked(tmp_path: Path, members: Members) -> None:
    """40 MB of nothing, in 40 kB: it is refused before a byte of it is written."""
    path = zipped(tmp_path / "x.zip", members)
    bomb = "recordings/ab/ab" + "0" * 62 + ".wav"
    with zipfile.ZipFile(path, "a", zipfile.ZIP_DEFLATED) as archive, archive.open(bomb, "w") as member:
        for _ in range(40):
            member.write(bytes(1 << 20))
    refused(path, "unpacks to 41943040 bytes from")


def test_a_member_that_lies_about_its_length(tmp_path: Path, members: Members) -> None:
    """The lengths before the member and in the list at the end are nine too small (APPNOTE 4.3.7, 4.3.12)."""
    path = zipped(tmp_path / "x.zip", members)
    name = "data/takes.json"
    with zipfile.ZipFile(path) as archive:
        info = archive.getinfo(name)
    data = bytearray(path.read_bytes())
    for length_at in (info.header_offset + 22, data.rindex(name.encode()) - 46 + 24):
        assert data[length_at : length_at + 4] == info.file_size.to_bytes(4, "little")
        data[length_at : length_at + 4] = (info.file_size - 9).to_bytes(4, "little")
    path.write_bytes(data)
    refused(path, r"data/takes\.json")


def test_members_that_overlap(tmp_path: Path, members: Members) -> None:
    """Five names for the same packed bytes: how a small file unpacks to a large one without a high ratio."""
    data = random.Random(1).randbytes(1 << 16)  # noqa: S311 - no secret
    first, *others = (f"recordings/ab/ab{number:062d}.wav" for number in range(5))
    whole = signed({**members, **dict.fromkeys([first, *others], data)})
    path = zipped(tmp_path / "x.zip", {name: whole[name] for name in whole if name not in others})
    with zipfile.ZipFile(path, "a") as archive:
        for name in others:
            twin = copy.copy(archive.getinfo(first))
            twin.filename = name
            archive.filelist.append(twin)
            archive.NameToInfo[name] = twin
        vars(archive)["_didModify"] = True  # the library writes the list of members anew
    refused(path, "its members overlap")


@pytest.mark.parametrize(
    ("name", "data", "match"),
    [
        ("data/takes.json", b"[]", "data/takes.json is not what the manifest says"),
        ("manifest.json", b"{}", "its schema is 'None'"),
        ("manifest.json", b"\xff\xfe", "JSON that cannot be read"),
        ("manifest.json", b"[" * 3000, "JSON that cannot be read"),
        ("manifest.json", b"[]", "JSON of another form"),
        ("manifest.json", b'{"schema": "urn:evenhand:studio-9"}', "its schema is 'urn:evenhand:studio-9'"),
        ("manifest.json", b'{"schema": "urn:evenhand:studio-1", "members": {}}', "names other members"),
    ],
)
def test_members_that_do_not_fit_the_manifest(
    tmp_path: Path, members: Members, name: str, data: bytes, match: str
) -> None:
    refused(zipped(tmp_path / "x.zip", {**members, name: data}), match)


@pytest.mark.parametrize("name", ["manifest.json", "data/links.json"])
def test_a_member_that_is_lacking(tmp_path: Path, members: Members, name: str) -> None:
    rest = {each: data for each, data in members.items() if each != name}
    refused(zipped(tmp_path / "x.zip", signed(rest) if name != "manifest.json" else rest), f"has no {name}")


def test_a_recording_that_is_another_than_its_name_says(tmp_path: Path, members: Members) -> None:
    name = next(name for name in members if name.startswith("recordings/"))
    refused(zipped(tmp_path / "x.zip", signed({**members, name: b"fLaC other"})), "not what its name says")


def test_a_recording_that_a_take_names_and_that_is_lacking(tmp_path: Path, members: Members) -> None:
    rest = {name: data for name, data in members.items() if not name.endswith(".flac")}
    refused(zipped(tmp_path / "x.zip", signed(rest)), "recording .* is not in it")


@pytest.mark.parametrize(
    ("table", "field", "value", "match"),
    [
        ("students", "id", 7, "students.id is '7'"),
        ("students", "name", None, "students.name is 'None'"),
        ("students", "name", "nul\0", "students.name"),
        ("students", "archived", 1, "students.archived is '1'"),
        ("students", "created_at", "2026-03-02T12:00:00", "students.created_at"),
        ("students", "consent_on", "2026-02-31", "students.consent_on"),
        ("students", "minutes_a_day", "20", "students.minutes_a_day is '20'"),
        ("students", "minutes_a_day", float("nan"), "students.minutes_a_day is 'nan'"),
        ("students", "days_a_week", True, "students.days_a_week is 'True'"),
        ("students", "days_a_week", 10**30, "do not go together"),
        ("takes", "facts", ["x"], "takes.facts"),
        ("takes", "facts", {"x": 1}, "takes.facts"),
        ("takes", "status", "listening", "do not go together"),
        ("takes", "student_id", "nobody", "do not go together"),
        ("takes", "recording", "../../studio.sqlite", r"recording '\.\./\.\./studio\.sqlite' is not in it"),
        ("book", "id", "../x", None),
    ],
)
def test_rows_that_no_studio_has(
    tmp_path: Path, members: Members, table: str, field: str, value: object, match: str | None
) -> None:
    path = zipped(tmp_path / "x.zip", with_rows(members, table, lambda rows: rows[0].update({field: value})))
    if match is None:  # any text is an id; it is never a path
        import_studio(path, tmp_path / "there").close()
    else:
        refused(path, match)


@pytest.mark.parametrize(
    ("table", "change", "match"),
    [
        ("students", lambda rows: rows[0].pop("name"), "has not the fields"),
        ("students", lambda rows: rows[0].update(extra=1), "has not the fields"),
        ("students", lambda rows: rows.append("x"), "has not the fields"),
        ("students", lambda rows: rows.append(rows[0]), "do not go together"),
        ("students", list.clear, "do not go together"),
        ("studio", list.clear, "holds 0 studios"),
        ("studio", lambda rows: rows.append({**rows[0], "id": 2}), "holds 2 studios"),
    ],
)
def test_tables_that_no_studio_has(
    tmp_path: Path, members: Members, table: str, change: Callable[[list[Any]], object], match: str
) -> None:
    refused(zipped(tmp_path / "x.zip", with_rows(members, table, change)), match)


def test_a_table_or_what_was_heard_in_another_form(tmp_path: Path, members: Members) -> None:
    refused(zipped(tmp_path / "x.zip", signed({**members, "data/book.json": b"{}"})), "is no list")
    name = next(name for name in members if name.startswith("heard/"))
    refused(zipped(tmp_path / "x.zip", signed({**members, name: b"[]"})), "JSON of another form")


def test_what_the_disk_cannot_hold(tmp_path: Path, members: Members, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("shutil.disk_usage", lambda _place: SimpleNamespace(free=0))
    refused(zipped(tmp_path / "x.zip", members), "no room on the disk", DiskFull)


def test_an_export_of_an_earlier_form_reads_without_what_came_later(tmp_path: Path, members: Members) -> None:
    older = with_rows(members, "students", lambda rows: rows[0].pop("signed_off"))
    older = with_rows(older, "studio", lambda rows: rows[0].pop("path"))
    studio = import_studio(zipped(tmp_path / "x.zip", older), tmp_path / "there")
    assert {student.signed_off for student in studio.students.all()} == {""}
    studio.close()
