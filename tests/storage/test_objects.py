"""Recordings in a store of objects: what is asked of it, who reaches what, and what a kill leaves."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from itertools import product
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import delete

from evenhand.cli.main import run
from evenhand.errors import DamagedRecording, NotFound, StoreAway, WrongOptions
from evenhand.media.film.reader import FilmReader
from evenhand.media.open_take import open_take
from evenhand.studio.safekeeping.backup import back_up, restore
from evenhand.studio.safekeeping.check import check_studio, repair_studio
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.places.address import ObjectsAddress
from evenhand.studio.store.places.bucket import BucketFiles
from evenhand.studio.store.places.copies import KEPT_S, Copies
from evenhand.studio.store.recordings import Sent
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.tables import takes
from evenhand.studio.values import StudioTake
from evenhand.studio.work.pool import hear_one, hear_waiting_once
from tests.objects import BUCKET, Store, program, running
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import Clock, a_new_take, a_studio

WAV = b"RIFF\x00\x00\x00\x00WAVEfmt " + bytes(60)


@pytest.fixture(scope="module")
def mortal() -> Iterator[Store]:
    """Run a store that tests may kill."""
    if program() is None:
        pytest.skip("SeaweedFS is not installed")
    with running() as store:
        yield store


@pytest.fixture
def client(objects: Store) -> Iterator[Any]:
    """Give a client beside ours."""
    made = objects.client()
    yield made
    made.close()


@pytest.fixture
def far(objects: Store, tmp_path: Path) -> Iterator[Studio]:
    """Give a studio whose recordings lie in the store, with a clock that goes right."""
    kept_in = Backing(objects=objects.address_of(tmp_path.name))
    with a_studio(tmp_path, backing=kept_in, now=Clock(datetime.now(UTC))) as studio:
        yield studio


def files_in(store: Store, prefix: str, studio_id: str, scratch: Path, more: str = "") -> BucketFiles:
    return BucketFiles(ObjectsAddress.read(store.address_of(prefix) + more), studio_id, scratch)


def received(studio: Studio, content: bytes | Path = WAV, key: str = "k", **more: Any) -> StudioTake:
    student = next(iter(studio.students.all()), None) or studio.students.add("Ida Quill")
    return studio.takes.receive(a_new_take(student.id, key, **more), content)[0]


def test_what_was_acknowledged_is_there_after_a_kill(mortal: Store) -> None:
    client = mortal.client()
    for number in range(20):
        client.put_object(Bucket=BUCKET, Key=f"kept/{number}", Body=bytes([number]) * 100_000)
    mortal.kill()
    mortal.start()
    kept = [client.get_object(Bucket=BUCKET, Key=f"kept/{number}")["Body"].read() for number in range(20)]
    assert kept == [bytes([number]) * 100_000 for number in range(20)]
    client.close()


def test_a_store_that_is_away_keeps_nothing_and_loses_nothing(
    mortal: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A take is refused; one that waits to be heard waits on, and nobody blames it."""
    for name, said in mortal.environment.items():
        monkeypatch.setenv(name, said)
    with a_studio(tmp_path, backing=Backing(objects=mortal.address)) as studio:
        waits = received(studio, a_recording(), exercise=EXERCISE, tempo=TEMPO)
        mortal.kill()
        with pytest.raises(StoreAway, match="does not answer"):
            received(studio, key="another")
        claimed = studio.queue.claim("worker")
        assert claimed is not None
        with pytest.raises(StoreAway):
            hear_one(studio, claimed, "worker", opens=open_take, films=FilmReader())
        studio.queue.give_back("worker")
        assert studio.takes.get(waits.id).status == "waiting"
        assert studio.data.lacks() == ["recordings"]
        with Studio.open(tmp_path / "studio", backing=Backing(objects=mortal.address)) as another:
            assert another.takes.get(waits.id).status == "waiting"  # a worker may begin meanwhile
        assert [take.id for take in studio.takes.all()] == [waits.id]
        mortal.start()
        assert received(studio, key="another").status == "waiting"
        assert studio.data.lacks() == []


@pytest.mark.parametrize(
    "address",
    ["", "school", "s3://", "s3://school?ends=x", "s3://school?endpoint=objects.example", "https://a/b"],
)
def test_what_is_no_address_is_refused_and_says_what_is(address: str) -> None:
    with pytest.raises(WrongOptions, match="s3://BUCKET"):
        ObjectsAddress.read(address)


def test_keys_are_no_part_of_an_address_and_never_said_again() -> None:
    with pytest.raises(WrongOptions) as error:
        ObjectsAddress.read("s3://key:secret@school/prefix")
    assert "secret" not in str(error.value)


def test_what_is_wrong_with_a_store_is_said_at_the_start(
    objects: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def begun(address: str) -> None:
        BucketFiles(ObjectsAddress.read(address), "one", tmp_path).check()

    begun(objects.address)
    with pytest.raises(StoreAway, match="has no such bucket"):
        begun(f"s3://nowhere?endpoint={objects.endpoint}")
    with pytest.raises(StoreAway, match="does not answer"):
        begun("s3://school?endpoint=http://127.0.0.1:9")
    monkeypatch.setenv("AWS_SECRET_ACCESS_KEY", "another")
    with pytest.raises(StoreAway, match="refuses these keys"):
        begun(objects.address)


@pytest.mark.parametrize(
    ("address", "code", "said"),
    [
        ("s3://nowhere?endpoint={}", 3, "has no such bucket. Make the bucket"),
        ("s3://school?endpoint=http://127.0.0.1:9", 3, "does not answer. Look whether it runs"),
        ("school", 2, "must be s3://BUCKET/PREFIX"),
    ],
)
def test_a_server_does_not_begin_with_a_store_that_is_none(
    objects: Store, tmp_path: Path, capsys: pytest.CaptureFixture[str], address: str, code: int, said: str
) -> None:
    a_studio(tmp_path).close()
    data = ["--data", str(tmp_path / "studio"), "--port", "0"]
    assert run(["serve", *data, "--objects", address.format(objects.endpoint)]) == code
    (line,) = capsys.readouterr().err.splitlines()
    assert said in line


def test_two_studios_in_one_bucket_see_nothing_of_each_other(objects: Store, tmp_path: Path) -> None:
    one, two = (files_in(objects, tmp_path.name, studio, tmp_path / studio) for studio in ("one", "two"))
    one.write("labels/x.json", b"{}")
    assert (one.names("labels"), two.names("labels")) == (["labels/x.json"], [])
    assert (two.read("labels/x.json"), two.size("labels/x.json")) == (None, None)
    two.remove("labels/x.json")
    two.remove_all("labels")
    assert one.read("labels/x.json") == b"{}"


def test_other_bytes_than_the_name_says_are_not_taken(objects: Store, tmp_path: Path) -> None:
    files = files_in(objects, tmp_path.name, "one", tmp_path / "copies")
    name = f"recordings/ab/{'ab' * 32}.wav"
    (tmp_path / "sent").write_bytes(WAV)
    with pytest.raises(StoreAway, match="BadDigest"):
        files.settle(tmp_path / "sent", name)
    assert files.size(name) is None


def test_the_store_is_asked_to_encrypt(objects: Store, tmp_path: Path, client: Any) -> None:
    """It is asked with each object, and says that it did; without the option it is not asked."""
    for more, said in (("&encryption=AES256", "AES256"), ("", None)):
        files = files_in(objects, tmp_path.name, f"one{said}", tmp_path / "copies", more)
        files.write("labels/x.json", b"{}")
        files.copy("labels/x.json", "labels/y.json")
        for name in ("x", "y"):
            found = client.head_object(Bucket=BUCKET, Key=f"{tmp_path.name}/one{said}/labels/{name}.json")
            assert found.get("ServerSideEncryption") == said
        assert files.read("labels/y.json") == b"{}"


def test_a_take_is_heard_from_the_store_and_leaves_no_copy_here(far: Studio, client: Any) -> None:
    take = received(far, a_recording(), exercise=EXERCISE, tempo=TEMPO)
    assert hear_waiting_once(far) == 1
    heard = far.takes.get(take.id)
    assert (heard.status, (heard.recording or "").endswith(".flac")) == ("heard", True)
    folder = far.data.recordings.folder
    assert [place for place in folder.rglob("*") if place.is_file()] == []
    assert list(far.data.recordings.kept_keys()) == [heard.recording]
    page = client.list_objects_v2(Bucket=BUCKET, Prefix=f"{folder.parent.parent.name}/first/")
    assert {each["Key"].split("/")[2] for each in page["Contents"]} == {"recordings", "labels"}
    assert check_studio(far).is_well


def test_what_no_take_names_is_set_aside_for_a_month_and_found_again(far: Studio) -> None:
    take = received(far)
    with far.data.database.writing() as connection:
        connection.execute(delete(takes))
    far.data.sweep()
    assert (list(far.data.recordings.kept_keys()), set(far.data.recordings.aside.keys())) == (
        [],
        {take.recording},
    )
    ((_folder, n, _until),) = check_studio(far).aside
    assert n == 1
    assert repair_studio(far).found == 1
    assert far.takes.get(take.id).recording == take.recording
    assert check_studio(far).is_well


def test_what_was_set_aside_goes_after_a_month_seen_on_two_days(far: Studio) -> None:
    received(far)
    with far.data.database.writing() as connection:
        connection.execute(delete(takes))
    clock = far.data.now
    assert isinstance(clock, Clock)
    left = []
    for days in (0, 30, 1, 0, 1):
        clock.at += timedelta(days=days)
        far.data.sweep()
        left.append(len(set(far.data.recordings.aside.keys())))
    assert left == [1, 1, 1, 1, 0]


class PowerCut(BaseException):
    """Stands for the end of the process: nothing of ours catches it."""


@pytest.mark.parametrize("way", ["past the server", "through it"])
def test_a_kill_at_any_instant_loses_nothing_and_keeps_it_once(
    far: Studio, monkeypatch: pytest.MonkeyPatch, way: str
) -> None:
    """Before and after each question to the store: the device sends again, and there is one take, whole."""
    ida, ask = far.students.add("Ida Quill"), BucketFiles._ask  # noqa: SLF001 - each question goes through it
    left, broken = 0, list[int]()

    def breaks(files: BucketFiles, *what: Any, **how: Any) -> Any:
        nonlocal left
        left -= 1
        if left == 0 and not after:
            raise PowerCut
        answer = ask(files, *what, **how)
        if left == 0:
            raise PowerCut
        return answer

    monkeypatch.setattr(BucketFiles, "_ask", breaks)
    for number, after in product(range(1, 13), (False, True)):
        key, content = f"key-{number}-{after}", WAV + f"{number} {after}".encode()
        sent: Sent | bytes = content
        if way == "past the server":
            sent = Sent(ida.id, sha256(content).hexdigest())
            far.data.recordings.files.write(sent.name, content)
        left = number
        try:
            far.takes.receive(a_new_take(ida.id, key), sent)
        except PowerCut:
            broken.append(number)
        left = 0
        try:
            take, _ = far.takes.receive(a_new_take(ida.id, key), sent)
        except NotFound:  # the page sends the bytes with the take then
            take, _ = far.takes.receive(a_new_take(ida.id, key), content)
        assert far.takes.sound_recording(take).read_bytes() == content
    assert max(broken) < 12  # all instants were tried
    assert len(broken) >= 6
    far.data.sweep(older_than_s=0)
    kept = {take.recording for take in far.takes.all()}
    assert (len(kept), set(far.data.recordings.kept_keys())) == (24, kept)
    assert far.data.recordings.files.names("incoming") == []
    assert check_studio(far).is_well


def test_who_is_erased_leaves_nothing_in_the_store(far: Studio, client: Any) -> None:
    """Takes, labels, what was set aside, and what was sent past the server and never kept."""
    take = received(far, stroke="tap")
    una = far.students.add("Una Marsh")
    hers = far.takes.receive(a_new_take(una.id), WAV + b"hers")[0]
    with far.data.database.writing() as connection:
        connection.execute(delete(takes).where(takes.c.id == take.id))
    far.data.sweep()
    far.data.recordings.files.write(Sent(take.student_id, "ab" * 32).name, b"sent")
    far.takes.receive(a_new_take(take.student_id, "another"), WAV + b"another")
    copy = far.data.recordings.path(far.takes.all(take.student_id)[0].recording or "")
    far.students.erase(take.student_id)
    assert not copy.exists()
    prefix = f"{far.data.recordings.folder.parent.parent.name}/first/"
    left = client.list_objects_v2(Bucket=BUCKET, Prefix=prefix)["Contents"]
    assert sorted(each["Key"].removeprefix(prefix) for each in left) == [
        f"labels/{una.id}/student.json",
        f"labels/{una.id}/take-{hers.id}.json",
        f"recordings/{hers.recording}",
    ]


def test_a_backup_of_one_store_is_put_back_into_another(far: Studio, objects: Store, tmp_path: Path) -> None:
    take = received(far)
    assert back_up(far, tmp_path / "kept.zip").missing == ()
    kept_in = Backing(objects=objects.address_of(f"{tmp_path.name}/again"))
    restore(tmp_path / "kept.zip", tmp_path / "there", backing=kept_in)
    with Studio.open(tmp_path / "there", backing=kept_in) as again:
        assert check_studio(again).is_well
        assert again.takes.recording(again.takes.get(take.id)).read_bytes() == WAV
        assert not list((tmp_path / "there" / "recordings").glob("??/*"))


def test_a_copy_that_was_damaged_here_is_made_anew(far: Studio) -> None:
    take = received(far)
    far.takes.recording(take).write_bytes(b"rot")
    assert far.takes.sound_recording(take).read_bytes() == WAV
    far.data.recordings.files.write(f"recordings/{take.recording}", b"rot")
    far.data.recordings.files.let_go(f"recordings/{take.recording}")
    with pytest.raises(DamagedRecording, match="damaged in the store"):
        far.takes.sound_recording(take)


def test_a_block_lets_go_of_its_own_copies_and_of_no_other_threads(far: Studio) -> None:
    mine, other = (received(far, WAV + name.encode(), name).recording or "" for name in ("mine", "other"))
    recordings = far.data.recordings
    with recordings.copies():
        place = recordings.path(mine)
        with ThreadPoolExecutor(1) as another:
            theirs = another.submit(recordings.path, other).result()
    assert (place.exists(), theirs.exists()) == (False, True)


def test_copies_are_bounded_but_for_those_in_use(tmp_path: Path) -> None:
    copies = Copies(tmp_path, most_bytes=250)
    places = [copies.add(f"recordings/{k}", iter([bytes(100)])) for k in range(4)]
    assert all(place.is_file() for place in places)  # lent just now
    for place in places[:3]:
        os.utime(place, (1, 1))
    last = copies.add("recordings/9", iter([bytes(100)]))
    assert [place.is_file() for place in [*places, last]] == [False, False, False, True, True]
    os.utime(last, (time.time() - KEPT_S,) * 2)
    copies.tidy()  # as it does by itself
    assert [place.is_file() for place in (places[3], last)] == [True, False]
    copies.close()
    assert list(tmp_path.iterdir()) == []


def test_who_is_killed_leaves_copies_to_the_next_sweep(tmp_path: Path) -> None:
    code = (
        "import os, sys, pathlib; from evenhand.studio.store.places.copies import Copies;"
        "copies = Copies(pathlib.Path(sys.argv[1]));"
        "copies.add('recordings/x', iter([b'private'])); os.kill(os.getpid(), 9)"
    )
    subprocess.run([sys.executable, "-c", code, str(tmp_path)], check=False)
    assert [place.read_bytes() for place in tmp_path.rglob("x")] == [b"private"]
    with Studio.create(tmp_path / "studio", name="N", password="rim and shoulder") as studio:  # noqa: S106 - invented
        (left,) = tmp_path.glob(".copies.*")
        left.rename(studio.data.recordings.folder / left.name)
        studio.data.sweep()
        assert list(studio.data.recordings.folder.rglob("x")) == []
