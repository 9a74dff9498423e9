"""Windows in three engines, driven alike: Chromium by Playwright, Firefox by BiDi, WebKit by WebDriver.

Conventions: a script is the body of an async function; what it was given is ``given`` in it. A press is a
real one, so that the engines' rules on what needs a person's touch hold. Nothing is switched off in an
engine but its question for the microphone. The machine needs no sound card: PulseAudio makes a room of air,
into which the pages' clicks and a take that is played here sound, and which the microphone hears.
"""

from __future__ import annotations

import json
import re
import tempfile
import time
from abc import ABC, abstractmethod
from contextlib import ExitStack
from pathlib import Path
from typing import Any, Literal, Self

import httpx2
from playwright.sync_api import Playwright
from websockets.sync.client import ClientConnection, connect

from tests.e2e.air import LOOK_S, PATIENCE_S, Air, program, running, until_said

Engine = Literal["chromium", "firefox", "webkit"]
ENGINES: tuple[Engine, ...] = ("chromium", "firefox", "webkit")
WIDE, HIGH = 390, 844
BIDI = re.compile(rb"WebDriver BiDi listening on (ws://\S+)")
DISPLAY = re.compile(rb"(\d+)\n")
READY = "document.querySelector('#practice[data-ready]') !== null"  # the stand's scripts are there
NOTES_ERRORS = """
window.wentWrong ??= (() => {
  const errors = [];
  addEventListener("error", (event) => errors.push(String(event.message)));
  addEventListener("unhandledrejection", (event) => errors.push(String(event.reason)));
  return errors;
})();
"""
FIREFOX_PREFERENCES = {
    "media.navigator.permission.disabled": True,
    "browser.shell.checkDefaultBrowser": False,
    "browser.startup.page": 0,
    "datareporting.policy.dataSubmissionEnabled": False,
    "app.update.disabledForTesting": True,
    "remote.active-protocols": 1,
}


class Window(ABC):
    """One window of an engine, 390 px wide, at a studio's address."""

    engine: Engine
    address = ""

    @abstractmethod
    def goto(self, url: str) -> None:
        """Load a page, and wait for its load event."""

    @abstractmethod
    def run(self, script: str, *given: Any) -> Any:
        """Run an async function's body in the page; it has what is given as ``given``."""

    @abstractmethod
    def press(self, css: str) -> None:
        """Press on an element, as a person does."""

    @abstractmethod
    def write(self, css: str, text: str) -> None:
        """Write into a field, in place of what stood there."""

    @abstractmethod
    def close(self) -> None:
        """End it."""

    # What is the same in all.

    def open(self, path: str, before: str = "") -> None:
        """Go to a page of the studio; ``before`` is run in it at once."""
        self.goto(f"{self.address}{path}")
        self.run(NOTES_ERRORS + before)

    def until(self, holds: str, *given: Any, patience_s: float = PATIENCE_S) -> Any:
        """Wait until an expression is true in the page, and return what it is."""
        end_s = time.monotonic() + patience_s
        while not (found := self.run(f"return {holds}", *given)):
            assert time.monotonic() < end_s, (
                f"{self.engine}: waited in vain for {holds} {given}: {self.seen()}"
            )
            time.sleep(LOOK_S)
        return found

    def says(self, css: str, words: str) -> str:
        """Wait until an element's text has words (a regular expression), and return it."""
        return str(
            self.until("(document.querySelector(given[0])?.innerText ?? '').match(given[1])?.[0]", css, words)
        )

    def seen(self) -> str:
        """Return what a person sees: for a test that fails."""
        return str(
            self.run("return document.body.innerText.slice(0, 1500) + '\\n' + (window.wentWrong ?? '')")
        )

    def named(self, words: str, among: str = "a, button, summary, label") -> str:
        """Find what is seen and called so, or is said to be where it is not seen, and return its selector."""
        self._named = getattr(self, "_named", 0) + 1
        mark = f"named-{self._named}"
        self.until(_NAMED, words, among, mark)
        return f"[data-named~='{mark}']"

    def field(self, label: str) -> str:
        """Find the field of a label that begins so, and return its selector."""
        field = self.until(_FIELD, label)
        return f"[id='{field}']"

    def follow(self, css: str) -> None:
        """Press on what leads to another page, and wait until that is there."""
        self.run("window.before = true")
        self.press(css)
        self.until("!window.before && document.readyState === 'complete'")
        self.run(NOTES_ERRORS)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: object, *_error: object) -> None:
        try:
            if kind is None:
                assert self.run("return window.wentWrong ?? []") == []
        finally:
            self.close()


_NAMED = """(() => {
  const seen = [...document.querySelectorAll(given[1])].filter((each) => each.checkVisibility());
  const found = seen.find((each) => each.innerText.trim().startsWith(given[0]));
  found?.setAttribute("data-named", `${found.getAttribute("data-named") ?? ""} ${given[2]}`);
  return Boolean(found);
})()"""
_FIELD = """[...document.querySelectorAll("label")]
  .find((each) => each.innerText.trim().startsWith(given[0]) && each.checkVisibility())?.htmlFor"""


class ChromiumWindow(Window):
    """Chromium, with its own rules on sound (other tests here let pages sound at once)."""

    engine = "chromium"

    def __init__(self, air: Air, playwright: Playwright) -> None:
        self._browser = playwright.chromium.launch(
            executable_path=program("chromium"),
            args=["--no-sandbox", "--disable-gpu", "--use-fake-ui-for-media-stream"],
            ignore_default_args=["--mute-audio"],
            env=air.surroundings,  # type: ignore[arg-type]
        )
        self._page = self._browser.new_context(viewport={"width": WIDE, "height": HIGH}).new_page()
        self._page.on("dialog", lambda dialog: dialog.accept())

    def goto(self, url: str) -> None:
        """Load a page."""
        self._page.goto(url)

    def run(self, script: str, *given: Any) -> Any:
        """Run a script, once more where the page was just leaving."""
        return self._page.evaluate(f"async (given) => {{ {script} }}", list(given))

    def press(self, css: str) -> None:
        """Press on an element."""
        self._page.locator(css).first.click(timeout=1000 * PATIENCE_S)

    def write(self, css: str, text: str) -> None:
        """Write into a field."""
        self._page.locator(css).first.fill(text)

    def close(self) -> None:
        """End the browser."""
        self._browser.close()


class FirefoxWindow(Window):
    """Firefox over its own WebDriver BiDi socket (W3C), without a driver between."""

    engine = "firefox"

    def __init__(self, air: Air) -> None:
        self._ends = ExitStack()
        self._count = 0
        folder = Path(self._ends.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True)))
        lines = [
            f"user_pref({json.dumps(key)}, {json.dumps(to)});" for key, to in FIREFOX_PREFERENCES.items()
        ]
        (folder / "user.js").write_text("\n".join(lines), "utf-8")
        log = folder / "log"
        command = [str(program("firefox")), "--headless", "--no-remote", "--profile", str(folder)]
        process = self._ends.enter_context(
            running([*command, "--remote-debugging-port=0"], log, air.surroundings)
        )
        found = until_said(log, BIDI, process)
        self._line: ClientConnection = self._ends.enter_context(
            connect(f"{found}/session", max_size=None, ping_interval=None)
        )
        self._ask(
            "session.new", capabilities={"alwaysMatch": {"unhandledPromptBehavior": {"default": "accept"}}}
        )
        self._tab = self._ask("browsingContext.getTree")["contexts"][0]["context"]
        self._ask("browsingContext.setViewport", context=self._tab, viewport={"width": WIDE, "height": HIGH})

    def _ask(self, method: str, **facts: Any) -> Any:
        self._count += 1
        self._line.send(json.dumps({"id": self._count, "method": method, "params": facts}))
        while True:
            answer = json.loads(self._line.recv(timeout=2 * PATIENCE_S))
            if answer.get("id") == self._count:
                assert answer["type"] == "success", f"{method}: {answer.get('error')} {answer.get('message')}"
                return answer["result"]

    def goto(self, url: str) -> None:
        """Load a page."""
        self._ask("browsingContext.navigate", context=self._tab, url=url, wait="complete")

    def run(self, script: str, *given: Any) -> Any:
        """Run a script; values go both ways as JSON."""
        body = (
            "async (told) => { const given = JSON.parse(told); "
            f"return JSON.stringify((await (async () => {{ {script} }})()) ?? null); }}"
        )
        return json.loads(self._call(body, {"type": "string", "value": json.dumps(given)})["value"])

    def _call(self, function: str, *given: Any) -> Any:
        answer = self._ask(
            "script.callFunction",
            functionDeclaration=function,
            arguments=list(given),
            target={"context": self._tab},
            awaitPromise=True,
        )
        assert answer["type"] == "success", answer["exceptionDetails"]["text"]
        return answer["result"]

    def press(self, css: str) -> None:
        """Press on an element, in its middle, wherever that is by then: the page may be moving."""
        self.until(_IN_VIEW, css)
        found = self._call(_SEEN, {"type": "string", "value": css})
        origin = {"type": "element", "element": {"sharedId": found["sharedId"]}}
        steps = [
            {"type": "pointerMove", "x": 0, "y": 0, "origin": origin},
            {"type": "pointerDown", "button": 0},
            {"type": "pointerUp", "button": 0},
        ]
        pointer = {"type": "pointer", "id": "hand", "parameters": {"pointerType": "mouse"}, "actions": steps}
        self._ask("input.performActions", context=self._tab, actions=[pointer])

    def write(self, css: str, text: str) -> None:
        """Write into a field."""
        self.press(css)
        self.run("document.querySelector(given[0]).select()", css)
        keys = [{"type": how, "value": letter} for letter in text for how in ("keyDown", "keyUp")]
        typed = {"type": "key", "id": "keys", "actions": keys}
        self._ask("input.performActions", context=self._tab, actions=[typed])

    def close(self) -> None:
        """End the browser."""
        self._ends.close()


_SEEN = "(css) => [...document.querySelectorAll(css)].find((each) => each.checkVisibility())"
_IN_VIEW = f"""(() => {{
  const found = ({_SEEN})(given[0]);
  found?.scrollIntoView({{ block: "center" }});
  return Boolean(found);
}})()"""


class WebKitWindow(Window):
    """WebKitGTK's own small browser, by its WebDriver (W3C), on a display that nobody sees."""

    engine = "webkit"

    def __init__(self, air: Air) -> None:
        self._ends = ExitStack()
        folder = Path(self._ends.enter_context(tempfile.TemporaryDirectory(ignore_cleanup_errors=True)))
        seen = folder / "display"
        screen = self._ends.enter_context(
            running([str(program("display")), "-displayfd", "1", "-screen", "0", "1280x1000x24"], seen)
        )
        display = f":{until_said(seen, DISPLAY, screen)}"
        surroundings = {**air.surroundings, "DISPLAY": display, "GDK_BACKEND": "x11", "HOME": str(folder)}
        surroundings.update(WEBKIT_DISABLE_SANDBOX_THIS_IS_DANGEROUS="1", LIBGL_ALWAYS_SOFTWARE="1")
        port = _free_port()
        log = folder / "log"
        self._ends.enter_context(running([str(program("webkit")), f"--port={port}"], log, surroundings))
        self._ask_at = httpx2.Client(base_url=f"http://127.0.0.1:{port}", timeout=2 * PATIENCE_S)
        self._ends.callback(self._ask_at.close)
        self._session = ""
        wanted = {"webkitgtk:browserOptions": {"binary": str(_minibrowser()), "args": ["--automation"]}}
        wanted["unhandledPromptBehavior"] = "accept"  # type: ignore[assignment]
        made = self._begun({"capabilities": {"alwaysMatch": wanted}})
        self._session = f"/session/{made['sessionId']}"
        self._ends.callback(lambda: self._ask_at.delete(self._session))
        self._ask("/timeouts", script=int(1000 * PATIENCE_S))
        self._ask("/window/rect", width=WIDE, height=HIGH)

    def _begun(self, wanted: dict[str, Any]) -> Any:
        end_s = time.monotonic() + PATIENCE_S
        while True:
            try:
                return self._ask("/session", **wanted)
            except httpx2.ConnectError:  # it is just starting
                assert time.monotonic() < end_s
                time.sleep(LOOK_S)

    def _ask(self, path: str, **facts: Any) -> Any:
        answer = self._ask_at.post(f"{self._session}{path}", json=facts)
        found = answer.json()["value"]
        assert answer.status_code == 200, f"{path}: {found}"
        return found

    def goto(self, url: str) -> None:
        """Load a page."""
        self._ask("/url", url=url)

    def run(self, script: str, *given: Any) -> Any:
        """Run a script; an error of its own is raised here."""
        body = (
            f"const [given, done] = arguments; (async () => {{ {script} }})()"
            ".then((each) => done({ each: each ?? null }), (error) => done({ error: String(error) }));"
        )
        found = self._ask("/execute/async", script=body, args=[list(given)])
        assert "error" not in found, found["error"]
        return found["each"]

    def press(self, css: str) -> None:
        """Press on an element."""
        self.until(_IN_VIEW, css)
        self._ask(f"/element/{self._element(css)}/click")

    def write(self, css: str, text: str) -> None:
        """Write into a field."""
        element = self._element(css)
        self._ask(f"/element/{element}/clear")
        self._ask(f"/element/{element}/value", text=text)

    def _element(self, css: str) -> str:
        (element,) = self._ask("/element", using="css selector", value=css).values()
        return str(element)

    def close(self) -> None:
        """End browser, driver and display."""
        self._ends.close()


def _minibrowser() -> Path:
    found = sorted(Path("/usr").glob("lib*/**/webkit2gtk-4.*/MiniBrowser"))
    assert found, "WebKit's driver is here, and its browser is not: install webkit2gtk-driver"
    return found[-1]


def _free_port() -> int:
    import socket

    with socket.socket() as asked:
        asked.bind(("127.0.0.1", 0))
        return int(asked.getsockname()[1])


def a_window(engine: Engine, air: Air, playwright: Playwright) -> Window:
    """Start an engine, with nothing kept from before."""
    if engine == "chromium":
        return ChromiumWindow(air, playwright)
    return FirefoxWindow(air) if engine == "firefox" else WebKitWindow(air)
