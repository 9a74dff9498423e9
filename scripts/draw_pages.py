"""Draw the README's pictures: the demonstration's day, a take, and the stand, as Chromium shows them.

    make pictures                             # into docs/pictures
    python scripts/draw_pages.py SOMEWHERE

It serves a new demonstration on this computer, waits until it is filled (about a minute), looks at three of
its pages, and ends it. The pictures have few colours, so a palette keeps them small. Needs the packages for
tests (``make test`` puts them in place) and an installed Chromium.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

from PIL import Image
from playwright.sync_api import Browser, FloatRect, Page, ViewportSize, sync_playwright

from evenhand.studio.demo.fill import filling_of

PICTURES = Path(__file__).parents[1] / "docs" / "pictures"
DESK, PHONE = ViewportSize(width=1140, height=780), ViewportSize(width=390, height=800)
TAKE: FloatRect = {"x": 0, "y": 80, "width": 1140, "height": 960}
COLOURS, MOST_BYTES = 200, 100_000
PATIENCE_S, LOOK_S = 600.0, 0.2
TEACHERS, STANDS = "Nora Veldt", "Petra Ashdown-Moor"  # whose take, and whose stand


def main(folder: Path) -> None:
    """Draw all three."""
    with tempfile.TemporaryDirectory() as place, served(Path(place) / "studio") as said:
        address = re.search(r"open\s+(http://\S+)", said)
        link = re.search(rf"{STANDS}\s+(http://\S+)", said)
        assert address is not None and link is not None, said  # noqa: PT018, S101 - a script's own check
        with sync_playwright() as playwright:
            chromium = shutil.which("chromium") or shutil.which("google-chrome")
            browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            draw_desk(browser, address[1], folder)
            draw_stand(browser, link[1], folder)
            browser.close()


@contextmanager
def served(data: Path) -> Iterator[str]:
    """Serve a new demonstration; give what it says, once it is filled."""
    log = data.with_suffix(".log")
    with log.open("wb") as out:
        command = [sys.executable, "-m", "evenhand", "serve", "--demo", "--data", str(data), "--port", "0"]
        process = subprocess.Popen(command, stdout=out, stderr=subprocess.STDOUT)
        try:
            yield _until_filled(data, log, process)
        finally:
            process.terminate()
            process.wait()


def _until_filled(data: Path, log: Path, process: subprocess.Popen[bytes]) -> str:
    end_s = time.monotonic() + PATIENCE_S
    while "is filled" not in (said := log.read_text("utf-8")):
        assert process.poll() is None and time.monotonic() < end_s, f"not filled: {filling_of(data)}\n{said}"  # noqa: PT018, S101 - the same
        time.sleep(LOOK_S)
    return said


def draw_desk(browser: Browser, address: str, folder: Path) -> None:
    """Draw the teacher's day, and the take that it says to hear first."""
    page = browser.new_page(viewport=DESK, color_scheme="light")
    page.goto(f"{address}/login")
    page.fill("input[type=password]", "demo")
    page.click("main button")
    page.wait_for_selector(".small-folded")
    draw(page, folder / "page-day.png")
    page.locator(".line", has_text=TEACHERS).get_by_role("link").last.click()
    page.wait_for_selector(".take-body svg")
    page.set_viewport_size({"width": 1140, "height": 1100})
    draw(page, folder / "page-take.png", clip=TAKE)


def draw_stand(browser: Browser, link: str, folder: Path) -> None:
    """Draw a student's stand, as a phone shows it."""
    page = browser.new_page(viewport=PHONE, color_scheme="light")
    page.goto(link)
    if page.get_by_role("button").count() and "/s/" in page.url:
        page.get_by_role("button").first.click()
    page.wait_for_selector("#practice[data-ready]")
    draw(page, folder / "page-stand.png")


def draw(page: Page, path: Path, *, clip: FloatRect | None = None) -> None:
    """Write what the window shows, or a part of it, in few colours."""
    page.evaluate("document.fonts.ready")
    shown = Image.open(BytesIO(page.screenshot(clip=clip))).convert("RGB")
    shown.quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    size = path.stat().st_size
    print(f"{path.name}  {shown.width} by {shown.height} px, {size:,} bytes")
    assert size < MOST_BYTES, f"{path.name} is too large"  # noqa: S101 - the same


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else PICTURES)
