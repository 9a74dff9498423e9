"""The server is killed in the middle, and fifty come at once: nothing is lost, nothing is there twice."""

from __future__ import annotations

import socket
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from datetime import timedelta
from pathlib import Path

import httpx2
import pytest
from playwright.sync_api import Browser, Route, expect

from evenhand.studio.demo.fill import filling_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student
from evenhand.web.guard import COOKIE, CSRF_HEADER
from tests.e2e.furnished import TEMPO, TEXT, People, assign, played
from tests.e2e.rooms import House, a_room, choose_click, ready, start, until_heard
from tests.e2e.served import Served
from tests.studios import QUICK, a_studio

pytestmark = pytest.mark.e2e

HOUR = timedelta(hours=1)
PATIENCE_S, LOOK_S = 90.0, 0.02
NOBODY: People = None  # type: ignore[assignment]
MANY = 50


def until(holds: Callable[[], bool]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not holds():
        assert time.monotonic() < end_s, "waited in vain"
        time.sleep(LOOK_S)


@contextmanager
def a_house(folder: Path, *, workers: int = 1) -> Iterator[House]:
    """Serve a studio of its own."""
    a_studio(folder).close()
    data = folder / "studio"
    with Served(data, workers=workers) as served, Studio.open(data, hasher=QUICK) as studio:
        yield House(served, studio, NOBODY)


class Device:
    """A student's device that sends as the stand's script does."""

    def __init__(self, house: House, student: Student) -> None:
        secret, session = house.studio.access.begin("student", student_id=student.id, lasts=HOUR)
        self.house, self.secret = house, secret
        self.headers = {
            "origin": house.served.address,
            "accept": "application/json",
            "cookie": f"{COOKIE}={secret}",
            CSRF_HEADER: session.csrf,
        }

    def send(self, key: str, content: bytes) -> httpx2.Response:
        """Send a take, whole."""
        form = {"upload_key": key, "exercise": TEXT, "tempo": TEMPO, "source": "microphone"}
        files = {"recording": ("take.wav", content, "audio/wav")}
        address = f"{self.house.served.address}/stand/takes"
        return httpx2.post(address, data=form, files=files, headers=self.headers, timeout=PATIENCE_S)


def test_killed_while_an_upload_comes_in_the_page_sends_it_again(browser: Browser, folder: Path) -> None:
    with a_house(folder) as house:
        ida = house.studio.students.add("Ida Quill")
        assign(house.studio, ida)

        def kill_first(route: Route) -> None:
            house.served.kill()
            route.continue_()

        with a_room(browser, house, ida, take=played()) as room:
            page = ready(room)
            page.route("**/stand/takes", kill_first)
            choose_click(page)
            start(page)
            expect(page.locator("#status")).to_contain_text("No connection")
            page.unroute_all(behavior="wait")
            house.served.start()
            until_heard(page)
            assert "left hand comes" in page.locator("#result").inner_text()
        assert len(house.studio.takes.all(ida.id)) == 1


def test_killed_in_the_middle_of_the_bytes_nothing_half_is_kept(folder: Path) -> None:
    with a_house(folder, workers=0) as house:
        ida = house.studio.students.add("Ida Quill")
        device, content = Device(house, ida), played().wav
        host, _, port = house.served.address.removeprefix("http://").rpartition(":")
        with socket.create_connection((host, int(port))) as line:
            head = "".join(f"{name}: {value}\r\n" for name, value in device.headers.items())
            line.sendall(
                f"POST /stand/takes HTTP/1.1\r\nhost: {host}:{port}\r\n{head}"
                "content-type: multipart/form-data; boundary=b\r\n"
                f"content-length: {len(content)}\r\n\r\n--b\r\n".encode()
            )
            line.sendall(content[: len(content) // 2])
            house.served.kill()
        house.served.start()
        assert house.studio.takes.all(ida.id) == []
        assert device.send("key-0123456789abcdef", content).status_code == 202
        assert device.send("key-0123456789abcdef", content).status_code == 200
        (take,) = house.studio.takes.all(ida.id)
        assert house.studio.takes.recording(take).read_bytes() == content
        kept = [path for path in (folder / "studio" / "recordings").rglob("*") if path.is_file()]
        assert kept == [house.studio.takes.recording(take)]


def test_killed_while_it_hears_every_take_is_heard_once(folder: Path) -> None:
    with a_house(folder) as house:
        ida = house.studio.students.add("Ida Quill")
        device = Device(house, ida)
        for seed in range(4):
            assert (
                device.send(f"key-0123456789abcdef-{seed}", played(seed=seed, times=12).wav).status_code
                == 202
            )
        until(lambda: house.studio.queue.counts()["hearing"] == 1)
        house.served.kill()
        house.served.start()
        until(lambda: house.studio.queue.counts()["heard"] == 4)
        takes = house.studio.takes.all(ida.id, with_heard=True)
        assert {take.upload_key for take in takes} == {f"key-0123456789abcdef-{seed}" for seed in range(4)}
        assert all(take.heard and take.recording and take.recording.endswith(".flac") for take in takes)
        assert "Traceback" not in house.served.log(), house.served.log()


def test_fifty_students_send_at_once_and_all_is_kept(folder: Path) -> None:
    with a_house(folder, workers=0) as house:
        students = [house.studio.students.add(f"Student {number:02}") for number in range(MANY)]
        devices = [Device(house, student) for student in students]
        contents = [played().wav + number.to_bytes(4, "little") for number in range(MANY)]
        key = "key-0123456789abcdef"
        with ThreadPoolExecutor(MANY) as together:
            answers = list(
                together.map(lambda each: each[0].send(key, each[1]), zip(devices, contents, strict=True))
            )
        assert [answer.status_code for answer in answers] == [202] * MANY
        ids = {answer.json()["id"] for answer in answers}
        assert len(ids) == MANY
        for student, content in zip(students, contents, strict=True):
            (take,) = house.studio.takes.all(student.id)
            assert take.id in ids
            assert house.studio.takes.recording(take).read_bytes() == content
        assert "Traceback" not in house.served.log(), house.served.log()


def children(pid: int) -> list[Path]:
    """Name the processes that a process began, where the system has /proc."""
    stats = Path("/proc").glob("[0-9]*/stat")
    return [stat.parent for stat in stats if _parent(stat) == pid]


def _parent(stat: Path) -> int:
    try:
        return int(stat.read_text("utf-8").rpartition(")")[2].split()[1])
    except OSError:  # it ended in the meantime
        return 0


def test_a_demonstration_killed_while_it_is_filled_goes_on(folder: Path) -> None:
    """It answers before all is played. After a kill what was there is there, more comes, nobody plays on."""
    data = folder / "demonstration"
    with Served(data, demo=True) as served:
        begun = filling_of(data)
        assert begun is not None
        assert begun == (0, 0) or begun[0] < begun[1]
        until(lambda: (filling_of(data) or begun)[0] >= 2)
        players = children(served.pid)
        assert players or not Path("/proc").is_dir()
        served.kill()
    with Studio.open(data, hasher=QUICK) as studio:
        names = [student.name for student in studio.students.all()]
        was = {take.upload_key: take.id for one in studio.students.all() for take in studio.takes.all(one.id)}
        until(lambda: not any(player.exists() for player in players))
        with Served(data, demo=True):
            until(lambda: (filling_of(data) or begun)[0] >= len(was) + 2)
        now = [take for one in studio.students.all() for take in studio.takes.all(one.id)]
        assert [student.name for student in studio.students.all()] == names
        assert {take.upload_key: take.id for take in now if take.upload_key in was} == was
        assert len({take.upload_key for take in now}) == len(now) > len(was)
