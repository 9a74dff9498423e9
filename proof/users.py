"""Simulated users for locust: students who practise, and teachers who look after them. Run by ``load.py``.

Conventions: a student comes by their link, opens the day, sends takes with pauses between, and asks how far
the hearing is, as the stand's scripts do; a teacher logs in and goes from page to page. Each comes from an
address of its own, as the proxy in front would say. Times in s; the evening is compressed: pauses are short.
"""

from __future__ import annotations

import itertools
import json
import os
import random
import time
from pathlib import Path
from typing import Any

from gevent import sleep
from locust import FastHttpUser, constant, task
from urllib3.filepost import encode_multipart_formdata

FACTS: dict[str, Any] = json.loads(Path(os.environ["LOAD_FACTS"]).read_text("utf-8"))
SOUND = Path(FACTS["sound"]).read_bytes()
ASKS_S = (0.4, 2.0)  # as stand-result.js: quickly at first, then slower
QUICK_FOR_S, GIVES_UP_S = 10.0, 300.0
_NUMBERS = itertools.count()


class Visitor(FastHttpUser):  # type: ignore[misc]  # an extra, maybe absent
    """A browser: its cookies are kept by hand, since they go by HTTPS only and the proxy is left out."""

    abstract = True
    wait_time = constant(0)
    csrf = ""

    def asked(self, path: str, name: str, method: str = "GET", **more: Any) -> Any:  # noqa: ANN401 - locust's own
        """Ask, and remember what the answer says of cookies and token."""
        headers = {**self.from_proxy(), **more.pop("headers", {})}
        answer = self.client.request(method, path, name=name, headers=headers, allow_redirects=False, **more)
        given = (answer.headers or {}).get("set-cookie") or []
        for each in [given] if isinstance(given, str) else given:  # several come as a list
            name, _, secret = each.partition(";")[0].partition("=")
            self.cookies[name] = secret
        text = answer.text or ""
        if 'data-csrf="' in text:
            self.csrf = text.partition('data-csrf="')[2].partition('"')[0]
        return answer

    def from_proxy(self) -> dict[str, str]:
        """Say what the proxy in front says, and what the browser has."""
        number = self.number % 60_000
        cookies = "; ".join(f"{name}={secret}" for name, secret in self.cookies.items())
        found = {"Origin": FACTS["origin"], "X-Forwarded-Proto": "https", "Cookie": cookies}
        return {**found, "X-Forwarded-For": f"10.7.{number // 250}.{number % 250 + 1}"}

    def on_start(self) -> None:
        """Give it a number of its own."""
        self.number, self.cookies = next(_NUMBERS), dict[str, str]()


class Student(Visitor):
    """A student's evening."""

    weight = 49

    def on_start(self) -> None:
        """Open the link."""
        super().on_start()
        self.secret = FACTS["secrets"][self.number % len(FACTS["secrets"])]
        self.sent = 0
        self.asked(f"/s/{self.secret}", "/s/{secret}")
        self.asked("/stand", "/stand")

    @task  # type: ignore[untyped-decorator]
    def practise(self) -> None:
        """Play a take, and see what was heard; when all are sent, look at the day now and then."""
        sleep(random.uniform(0.5, 1.5) * FACTS["pause_s"])  # noqa: S311 - no secret
        self.asked("/stand/today.json", "/stand/today.json")
        if self.sent < FACTS["takes"]:
            self.sent += 1
            self.record()
        self.asked("/stand", "/stand")

    def record(self) -> None:
        """Send a take until it is acknowledged, and ask until it is heard."""
        form = {
            "upload_key": f"load-of-{FACTS['seed']}-{self.number:05d}-{self.sent:03d}",
            "source": "upload",
            "click": "off",
            "exercise": FACTS["exercise"],
            "tempo": FACTS["tempo"],
            "recording": ("take.wav", SOUND + bytes(f"{self.number} {self.sent}", "ascii"), "audio/wav"),
        }
        body, kind = encode_multipart_formdata(form)
        headers = {"Accept": "application/json", "X-Evenhand-Csrf": self.csrf, "Content-Type": kind}
        answer = self.asked("/stand/takes", "POST /stand/takes", "POST", data=body, headers=headers)
        if answer.status_code in {200, 202}:
            self.wait_for(str(answer.json()["id"]))

    def wait_for(self, take: str) -> None:
        """Ask how far the hearing is, and show what was heard; the wait is counted as a line of its own."""
        began_s = time.monotonic()
        while True:
            gone_s = time.monotonic() - began_s
            sleep(ASKS_S[gone_s > QUICK_FOR_S])
            answer = self.asked(f"/stand/takes/{take}/state.json", "/stand/takes/{take_id}/state.json")
            status = answer.json()["status"] if answer.status_code == 200 else "waiting"
            if status in {"heard", "failed"} or gone_s > GIVES_UP_S:
                break
        wrong = None if status == "heard" else RuntimeError(f"a take is {status}")
        self.environment.events.request.fire(
            request_type="WAIT",
            name="a take: sent to heard",
            response_time=1000 * (time.monotonic() - began_s),
            response_length=0,
            exception=wrong,
            context={},
        )
        self.asked(f"/stand/takes/{take}/result", "/stand/takes/{take_id}/result")


class Teacher(Visitor):
    """A teacher's evening."""

    weight = 1

    def on_start(self) -> None:
        """Log in."""
        super().on_start()
        self.asked("/login", "/login")
        self.login, self.students = FACTS["taught"][self.number % len(FACTS["taught"])]
        form = {"password": FACTS["password"], "login": self.login}
        self.asked("/login", "POST /login", "POST", data=form)

    @task  # type: ignore[untyped-decorator]
    def look(self) -> None:
        """Look at the desk, what is to be heard, the overview, and a student."""
        student = random.choice(self.students)  # noqa: S311 - no secret
        for path, name in (
            ("/", "/"),
            ("/hear", "/hear"),
            ("/students", "/students"),
            (f"/students/{student}", "/students/{student_id}"),
            (f"/students/{student}/week", "/students/{student_id}/week"),
            ("/overview", "/overview"),
        ):
            self.asked(path, name)
            sleep(random.uniform(0.5, 1.5) * FACTS["pause_s"] / 2)  # noqa: S311 - no secret
