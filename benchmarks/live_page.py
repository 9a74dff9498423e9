"""From a blow to its mark in the page: a take that is played into the page's microphone, in a real browser.

    python -m benchmarks.live_page [--times N] [--click room|headphones|count-in]

A blow's moment is where its note lies in the fed sound, on the clock that the browser renders it by; a
mark's is when its stick is in the document, before it is painted. The rendering clock is tied to the page's
by the smallest difference seen between the two, so what is said is rather too much than too little.
"""

from __future__ import annotations

import argparse
import os
import shutil
import tempfile
import time
from pathlib import Path

import numpy as np
from playwright.sync_api import sync_playwright

from evenhand.storage.studio import Studio
from tests.e2e.furnished import LATE, People, assign, played
from tests.e2e.rooms import House, a_room, choose_click, launch, ready, start, until_heard
from tests.e2e.served import Served
from tests.studios import a_studio

CHROMIUMS = ("chromium", "chromium-browser", "google-chrome")
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


def delays_ms(times: int, click: str) -> tuple[np.ndarray, float]:
    """Play a take so many times through: each note's delay, shape (n_notes,), and sending to heard; ms."""
    chromium = next((path for name in CHROMIUMS if (path := shutil.which(name))), None)
    if chromium is None:
        raise SystemExit(f"no browser: none of {', '.join(CHROMIUMS)}")
    take = played(LATE, times)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        a_studio(Path(folder)).close()
        data = Path(folder) / "studio"
        with Served(data) as served, Studio.open(data) as studio:
            student = studio.add_student("Nora Veldt")
            assign(studio, student, times=times)
            browser = launch(playwright, chromium)
            with a_room(browser, House(served, studio, NOBODY), student, take=take) as room:
                page = ready(room)
                choose_click(page, click)
                page.evaluate(WATCH)
                start(page)
                end_s = time.monotonic() + take.notes_s[-1] + 60
                while len(page.evaluate("window.marks")) < len(take.notes_s) and time.monotonic() < end_s:
                    page.wait_for_timeout(200)
                marks, behind, began = page.evaluate("[window.marks, window.behind, window.fed.beganAt]")
                until_heard(page)
                said = page.evaluate("window.said")
            browser.close()
    if len(marks) != len(take.notes_s):
        raise SystemExit(f"{len(marks)} marks for {len(take.notes_s)} notes: they cannot be told apart")
    blows = behind + 1000 * (began + np.array(take.notes_s))
    return np.array(marks) - blows, said["Heard"] - said["Sending"]


def main() -> None:
    """Measure, and print."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.live_page", description="From blow to mark.")
    parser.add_argument("--times", type=int, default=25, metavar="N", help="times through, 8 notes each")
    parser.add_argument("--click", default="headphones", choices=("headphones", "room", "count-in"))
    asked = parser.parse_args()
    load = os.getloadavg()[0]
    delays, heard_ms = delays_ms(asked.times, asked.click)
    low, middle, high, most = np.percentile(delays, [1, 50, 99, 100])
    print(f"blow to mark in the page, click {asked.click}: p50 {middle:.1f} ms, p99 {high:.1f} ms,")
    print(f"least (p1) {low:.1f} ms, most {most:.1f} ms, n = {delays.size}; load at the start {load:.1f}")
    print(
        f"from sending to what was heard in the page: {heard_ms:.0f} ms, {asked.times} times through, n = 1"
    )
    print(f"p99 is {'within' if high <= GOAL_MS else 'over'} {GOAL_MS:g} ms")


if __name__ == "__main__":
    main()
