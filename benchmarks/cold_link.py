"""From a student's private link to a click on a slow phone: ``python -m benchmarks.cold_link``.

Chromium's own brakes: the processor four times slower, and the network that its tools call slow 4G (562 ms
until an answer begins, 1.44 Mbit/s down, 0.68 up). Nothing is kept from before. What the page needs of the
machine is added, so figures of a busy machine say little; requests and bytes are the same anywhere.
"""

from __future__ import annotations

import statistics
import tempfile
import time
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path

from playwright.sync_api import Browser, expect, sync_playwright

from benchmarks.live_page import chromium as found_chromium
from evenhand.studio.store.studio import Studio
from tests.e2e.furnished import furnish, played
from tests.e2e.rooms import MICROPHONE, PHONE, _as_script, launch
from tests.e2e.served import Served
from tests.studios import QUICK, a_studio

SLOW_4G = {"offline": False, "latency": 562.5, "downloadThroughput": 180_000, "uploadThroughput": 84_375}
SLOWER, TIMES = 4, 7
SOUNDS = """() => new Promise((done) => {
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, ...rest) {
    start.call(this, when, ...rest);
    done(1000 * (when - this.context.currentTime));
    AudioBufferSourceNode.prototype.start = start;
  };
  document.getElementById("go").click();
})"""


@dataclass(frozen=True)
class Opened:
    """One opening: seconds from the link to a button that works, and from its press to the click."""

    ready_s: float
    click_s: float
    requests: int
    bytes_down: int


def open_once(browser: Browser, link: str, *, slow: bool = True) -> Opened:
    """Open a link in a new window, and start the click."""
    context = browser.new_context(viewport=PHONE)  # type: ignore[arg-type]
    context.add_init_script(MICROPHONE.read_text("utf-8").replace("__TAKE__", _as_script(played())))
    page = context.new_page()
    tools = context.new_cdp_session(page)
    tools.send("Network.enable")
    if slow:
        tools.send("Network.emulateNetworkConditions", SLOW_4G)
        tools.send("Emulation.setCPUThrottlingRate", {"rate": SLOWER})
    requests, down = [0], [0]
    tools.on("Network.requestWillBeSent", lambda _: requests.__setitem__(0, requests[0] + 1))
    tools.on("Network.loadingFinished", lambda each: down.__setitem__(0, down[0] + each["encodedDataLength"]))
    began = time.monotonic()
    page.goto(link, wait_until="commit")
    page.locator("#practice[data-ready]").wait_for()
    ready_s = time.monotonic() - began
    counted = requests[0], int(down[0])
    expect(page.locator("#go")).to_be_enabled()
    began = time.monotonic()
    ahead_ms = page.evaluate(SOUNDS)
    click_s = time.monotonic() - began + ahead_ms / 1000
    context.close()
    return Opened(ready_s, click_s, *counted)


def _said(seconds: list[float]) -> str:
    return f"{statistics.median(seconds):.2f} s ({min(seconds):.2f} to {max(seconds):.2f})"


def main() -> None:
    """Open the link some times, and print the middle of what was found."""
    chromium = found_chromium()
    with tempfile.TemporaryDirectory() as name, a_studio(Path(name)) as furnished:
        people = furnish(furnished)
        folder = Path(name) / "studio"
        with (
            Served(folder) as served,
            Studio.open(folder, hasher=QUICK) as studio,
            sync_playwright() as started,
        ):
            secret, _ = studio.access.make_link(people.nora.id, lasts=timedelta(hours=1))
            browser = launch(started, chromium)
            for slow in (False, True):
                found = [open_once(browser, f"{served.address}/s/{secret}", slow=slow) for _ in range(TIMES)]
                ready, click = ([getattr(each, part) for each in found] for part in ("ready_s", "click_s"))
                where = "slow phone" if slow else "this machine"
                first = found[0]
                print(f"{where}: link to button {_said(ready)}, button to click {_said(click)}, n = {TIMES},")
                print(f"  {first.requests} requests, {first.bytes_down / 1000:.0f} kB")
            browser.close()


if __name__ == "__main__":
    main()
