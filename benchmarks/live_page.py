"""From a blow to its mark in the page: a take that is played into the page's microphone, in a real browser.

    python -m benchmarks.live_page [--times N] [--click room|headphones|count-in]

A blow's moment is where its note lies in the fed sound, on the clock that the browser renders it by; a
mark's is when its stick is in the document, before it is painted. The rendering clock is tied to the page's
by the smallest difference seen between the two, so what is said is rather too much than too little. The fed
microphone has a path of its own, longer where the machine is busy, as a real one has: it is said apart.
"""

from __future__ import annotations

import argparse
import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from statistics import median

import numpy as np
from numpy.typing import NDArray
from playwright.sync_api import sync_playwright

from evenhand.acts.takes.document import heard_take_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import StudioTake
from tests.e2e.air import NEEDED, program
from tests.e2e.furnished import LATE, People, Played, assign, played
from tests.e2e.rooms import House, a_room, choose_click, launch, ready, start, until_heard
from tests.e2e.served import Served
from tests.studios import a_studio

Floats = NDArray[np.float64]
GOAL_MS = 60.0
NOBODY: People = None  # type: ignore[assignment]
WATCH = """() => {
    window.marks = [];
    window.behind = Infinity;
    const sticks = "path.r:not(.tick), path.l:not(.tick)";
    const look = () => {
        const now = performance.now();
        const count = document.querySelectorAll(`svg.rows :is(${sticks})`).length;
        while (window.marks.length < count) window.marks.push(now);
    };
    const watch = new MutationObserver(look);
    for (const svg of document.querySelectorAll("svg.rows")) watch.observe(svg, { childList: true });
    window.said = {};
    const status = document.getElementById("status");
    new MutationObserver(() => (window.said[status.textContent.split(".")[0]] ??= performance.now()))
        .observe(status, { childList: true });
    const tie = () => {
        const at = window.fed.contexts[0]?.currentTime;
        if (at > 0) window.behind = Math.min(window.behind, performance.now() - 1000 * at);
        setTimeout(tie, 1);
    };
    tie();
}"""


@dataclass(frozen=True)
class Measured:
    """What one take showed, ms: each blow's way to its mark, the microphone's own part of it, until heard."""

    delays: Floats
    path: float
    heard: float


def measured(times: int, click: str) -> Measured:
    """Play a take so many times through, in a browser at a studio of its own."""
    take = played(LATE, times)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        a_studio(Path(folder)).close()
        data = Path(folder) / "studio"
        with Served(data) as served, Studio.open(data) as studio:
            student = studio.students.add("Nora Veldt")
            assign(studio, student, times=times)
            browser = launch(playwright, chromium())
            with a_room(browser, House(served, studio, NOBODY), student, take=take) as room:
                page = ready(room)
                choose_click(page, click)
                page.evaluate(WATCH)
                start(page)
                until_heard(page, 1000 * (take.notes_s[-1] + 60))
                seen = page.evaluate("[window.marks, window.behind, window.fed.beganAt, window.said]")
            browser.close()
            (sent,) = studio.takes.all(student.id, with_heard=True)
    marks, behind_ms, began_s, said = seen
    if len(marks) != len(take.notes_s):
        raise SystemExit(f"{len(marks)} marks for {len(take.notes_s)} notes: they cannot be told apart")
    blows_ms = behind_ms + 1000 * (began_s + np.array(take.notes_s))
    return Measured(np.array(marks) - blows_ms, path_ms(sent, take), said["Heard"] - said["Sending"])


def path_ms(sent: StudioTake, take: Played) -> float:
    """Return how much later than it was laid the take stands in the recording: the microphone's own path."""
    hits = heard_take_of(sent.heard or "").heard.hits
    due_s = float(sent.facts["first_note_s"]) - take.notes_s[0]
    return median(1000 * (hit.time_s - due_s - at) for hit, at in zip(hits, take.notes_s, strict=True))


def chromium() -> str:
    """Find a browser."""
    found = program("chromium")
    if found is None:
        raise SystemExit(f"no browser: none of {', '.join(NEEDED['chromium'])}")
    return found


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.live_page", description="From blow to mark.")
    parser.add_argument("--times", type=int, default=25, metavar="N", help="times through, 8 notes each")
    parser.add_argument("--click", default="headphones", choices=("headphones", "room", "count-in"))
    asked = parser.parse_args()
    print(f"click {asked.click}; load at the start {os.getloadavg()[0]:.1f}")
    found = measured(asked.times, asked.click)
    for name, delays in (
        ("blow to mark in the page", found.delays),
        ("without the fed microphone's path", found.delays - found.path),
    ):
        low, middle, high, most = np.percentile(delays, [1, 50, 99, 100])
        print(f"{name:34} p1 {low:5.1f}  p50 {middle:5.1f}  p99 {high:5.1f}  most {most:5.1f} ms")
    print(f"that path: {found.path:.2f} ms; n = {found.delays.size}; at p99 {GOAL_MS:g} ms is aimed for")
    print(f"from sending to what was heard in the page: {found.heard:.0f} ms, n = 1")


if __name__ == "__main__":
    main()
