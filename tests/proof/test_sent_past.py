"""Recordings sent past the server, by devices that do not give up, while store and server are killed."""

from __future__ import annotations

import hashlib
import random
import threading
import time
from dataclasses import dataclass, field
from pathlib import Path

import httpx2
import pytest

from evenhand.studio.safekeeping.check import check_studio
from evenhand.studio.store.layout import Backing
from evenhand.studio.store.studio import Studio
from evenhand.web.guard import COOKIE
from evenhand.web.serving import STUDENT_STAYS
from tests.e2e.served import Served
from tests.objects import running
from tests.sounds import EXERCISE, TEMPO, a_recording
from tests.studios import QUICK, a_studio

TAKES, DEVICES, KILLS = 60, 3, 8
HEARD_WITHIN_S = 300.0
AGAIN_S = 0.3
TOO_MANY = 429


@dataclass
class Device:
    """A student's page: it sends each recording until that is acknowledged."""

    served: Served
    secret: str
    csrf: str
    acknowledged: dict[str, str] = field(default_factory=dict)
    past: int = 0  # how many went past the server

    def play(self, numbers: range) -> None:
        """Send recordings, one after the other."""
        for number in numbers:
            content, key, whole = a_recording(seed=number), f"key-{number:04d}-of-a-device", False
            while key not in self.acknowledged:
                try:
                    with httpx2.Client(cookies={COOKIE: self.secret}, timeout=60) as client:
                        whole = self._try(client, key, content, whole=whole)
                except httpx2.HTTPError:
                    time.sleep(AGAIN_S)

    def _try(self, client: httpx2.Client, key: str, content: bytes, *, whole: bool) -> bool:
        """Try once; tell whether it must go through the server the next time."""
        headers = {"Accept": "application/json", "Origin": self.served.address}
        form = {"csrf": self.csrf, "upload_key": key, "exercise": EXERCISE, "tempo": TEMPO}
        sent = "" if whole else self._sent(client, content, headers)
        files = None if sent else {"recording": ("take.wav", content, "audio/wav")}
        more = {"sent": sent} if sent else {}
        answer = client.post(
            f"{self.served.address}/stand/takes", data={**form, **more}, files=files, headers=headers
        )
        if answer.is_success:
            self.acknowledged[key] = answer.json()["id"]
            self.past += bool(sent)
        else:
            time.sleep(AGAIN_S * (10 if answer.status_code == TOO_MANY else 1))
        return answer.status_code == httpx2.codes.CONFLICT

    def _sent(self, client: httpx2.Client, content: bytes, headers: dict[str, str]) -> str:
        """Send a recording by a ticket; "" where that did not go."""
        sha256 = hashlib.sha256(content).hexdigest()
        form = {"csrf": self.csrf, "sent": sha256, "bytes": str(len(content))}
        try:
            ticket = client.post(f"{self.served.address}/stand/ticket", data=form, headers=headers)
            if ticket.is_success:
                put = ticket.json()
                if httpx2.put(put["url"], content=content, headers=put["headers"], timeout=30).is_success:
                    return sha256
        except httpx2.HTTPError:
            pass
        return ""


@pytest.mark.deep
def test_what_is_sent_past_the_server_is_there_once_whoever_is_killed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    chance = random.Random(17)  # noqa: S311 - when to kill
    with running() as store:
        for name, said in store.environment.items():
            monkeypatch.setenv(name, said)
        kept_in = f"{store.address}&links={store.endpoint}&encryption=AES256"
        backing = Backing(objects=kept_in)
        a_studio(tmp_path, backing=backing).close()
        served = Served(tmp_path / "studio", "--objects", kept_in)
        with served, Studio.open(tmp_path / "studio", backing=backing, hasher=QUICK) as studio:
            devices = []
            for number in range(DEVICES):
                student = studio.students.add(f"Student {number}")
                secret, session = studio.access.begin("student", student_id=student.id, lasts=STUDENT_STAYS)
                devices.append(Device(served, secret, session.csrf))
            playing = [
                threading.Thread(target=device.play, args=(range(number, TAKES, DEVICES),))
                for number, device in enumerate(devices)
            ]
            for each in playing:
                each.start()
            for kill in range(KILLS):
                time.sleep(chance.uniform(1, 3))
                (served if kill % 3 == 2 else store).kill()
                (served if kill % 3 == 2 else store).start()
            for each in playing:
                each.join()
            until_s = time.monotonic() + HEARD_WITHIN_S
            while {take.status for take in studio.takes.all()} != {"heard"} and time.monotonic() < until_s:
                time.sleep(1)
            takes = studio.takes.all()
            assert {take.upload_key: take.id for take in takes} == {
                key: take_id for device in devices for key, take_id in device.acknowledged.items()
            }
            assert (len(takes), {take.status for take in takes}) == (TAKES, {"heard"})
            assert sum(device.past for device in devices) > TAKES // 2
            served.stop()
            studio.data.sweep(older_than_s=0)
            assert check_studio(studio).is_well
            assert studio.data.recordings.files.names("incoming") == []
            assert not list(tmp_path.rglob("*.flac"))
