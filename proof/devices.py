"""Students' devices that send takes as the stand does: a link, a token, each take until it is taken.

Conventions: what may pass by itself is tried again with the same upload key, as ``stand-send.js`` does; times
in s, shorter here than there. One take in ``SENT_AGAIN`` is sent once more after it was acknowledged, as by a
device whose answer was lost.
"""

from __future__ import annotations

import random
import re
import threading
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import count

import httpx2

from proof.ledger import Entry, Ledger, What
from proof.sounds import TEMPO, TEXT, Recording, recording

CSRF = re.compile(r'data-csrf="([^"]+)"')
FIRST_S, MOST_S = 0.2, 3.0
TIMEOUT_S = 60.0
SENT_AGAIN = 20
JSON = {"Accept": "application/json"}


@dataclass(frozen=True, slots=True)
class Invited:
    """A student with the secret of their link."""

    student_id: str
    secret: str


class NoEntry(RuntimeError):
    """The stand did not let the student in."""


class Device:
    """One student's browser."""

    def __init__(self, address: str, invited: Invited) -> None:
        self.invited = invited
        self._client = httpx2.Client(
            base_url=address, headers={"Origin": address}, timeout=TIMEOUT_S, follow_redirects=True
        )
        self._csrf = ""

    def open(self) -> None:
        """Open the link, and read the page's token.

        Raises
        ------
        NoEntry
            The page that came is not the stand.
        httpx2.HTTPError
            No answer came.
        """
        answer = self._client.get(f"/s/{self.invited.secret}")
        found = CSRF.search(answer.text)
        if answer.status_code != 200 or found is None:
            raise NoEntry(f"status {answer.status_code} at {answer.url.path}")
        self._csrf = found[1]

    def send(self, sound: Recording, upload_key: str) -> tuple[int, str]:
        """Send a take once; give the answer's status (0: none came) and the take's id or what was said."""
        form = {
            "upload_key": upload_key,
            "source": "upload",
            "exercise": TEXT,
            "tempo": TEMPO,
            "click": "off",
        }
        files = {"recording": (sound.name, sound.content, sound.kind)}
        headers = {**JSON, "X-Evenhand-Csrf": self._csrf}
        try:
            if not self._csrf:
                self.open()
                headers["X-Evenhand-Csrf"] = self._csrf
            answer = self._client.post("/stand/takes", data=form, files=files, headers=headers)
            if answer.status_code in {200, 202}:
                return answer.status_code, str(answer.json()["id"])
        except (httpx2.HTTPError, NoEntry, ValueError) as error:  # the last: JSON that broke off
            return 0, str(error)
        return answer.status_code, answer.text[:200]

    def ask(self, path: str) -> httpx2.Response:
        """Ask for a page."""
        return self._client.get(path)

    def out(self) -> None:
        """Forget the token, so that the link is opened anew."""
        self._csrf = ""

    def close(self) -> None:
        """Close the browser."""
        self._client.close()


def passes(status: int) -> bool:
    """Tell whether a refusal may pass by itself: no answer, too busy, an error of the server's own."""
    return status in {0, 408, 429} or status >= 500


class Sending:
    """Devices that send takes, each in a thread of its own, until all are acknowledged."""

    def __init__(
        self, address: str, students: Sequence[Invited], ledger: Ledger, takes: int, *, seed: int
    ) -> None:
        self._address, self._students, self._ledger, self._takes = address, students, ledger, takes
        self._seed, self._numbers, self._lock = seed, count(), threading.Lock()
        self.tries = self.entries_lost = 0
        self.gate: Callable[[], bool] = lambda: True
        self.given_up = threading.Event()
        self._threads = [threading.Thread(target=self._send_all, args=(each,)) for each in students]

    def start(self) -> None:
        """Let the devices begin."""
        for thread in self._threads:
            thread.start()

    def over(self) -> bool:
        """Tell whether all takes are acknowledged."""
        return not any(thread.is_alive() for thread in self._threads)

    def _send_all(self, invited: Invited) -> None:
        device = Device(self._address, invited)
        chance = random.Random(f"{self._seed} {invited.student_id}")  # noqa: S311 - no secret
        while not self.given_up.is_set():
            while not self.gate() and not self.given_up.is_set():
                time.sleep(FIRST_S)
            with self._lock:
                number = next(self._numbers)
            if number >= self._takes:
                break
            self._insist(device, number, chance)
        device.close()

    def _insist(self, device: Device, number: int, chance: random.Random) -> None:
        """Send a take until it is acknowledged."""
        sound, upload_key = recording(number), f"soak-of-{self._seed}-take-{number:08d}"
        self._note("sent", device, number, upload_key, sha256=sound.sha256)
        wait_s = FIRST_S
        while not self.given_up.is_set():
            self.tries += 1
            status, said = device.send(sound, upload_key)
            if status in {200, 202}:
                self._note("acknowledged", device, number, upload_key, sha256=sound.sha256, take_id=said)
                if chance.randrange(SENT_AGAIN) == 0:
                    self._send_again(device, number, upload_key, sound)
                return
            if status in {401, 403}:
                self.entries_lost += 1
                device.out()
            elif not passes(status):
                self._note("refused", device, number, upload_key, words=f"{status} {said}")
                return
            time.sleep(wait_s * chance.uniform(0.5, 1.0))
            wait_s = min(2 * wait_s, MOST_S)

    def _send_again(self, device: Device, number: int, upload_key: str, sound: Recording) -> None:
        status, said = device.send(sound, upload_key)
        if status in {200, 202}:
            self._note("again", device, number, upload_key, take_id=said)

    def _note(self, what: What, device: Device, number: int, upload_key: str, **facts: str) -> None:
        self._ledger.note(Entry(what, number, upload_key, device.invited.student_id, **facts))
