"""The stand in three engines, with a microphone that hears the room: takes, calls, delays, no network."""

from __future__ import annotations

import re
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import Playwright

from evenhand.acts.takes.document import heard_take_of
from evenhand.studio.store.studio import Studio
from evenhand.studio.values import Student, StudioTake
from tests.e2e.air import WIRELESS_MS, Air
from tests.e2e.engines import ENGINES, READY, Engine, Window, a_window
from tests.e2e.furnished import People, played
from tests.e2e.rooms import HOUR, House, a_student
from tests.e2e.served import Served
from tests.studios import QUICK, a_studio

pytestmark = [pytest.mark.e2e, pytest.mark.parametrize("engine", ENGINES)]

NOBODY: People = None  # type: ignore[assignment]
PROCESSED = ("echoCancellation", "noiseSuppression", "autoGainControl")
TRIES = 5
MOST_AS_PLAYED = 20  # of 31 intervals; a third of them would agree with any others
CACHED = "(await (await caches.open('evenhand-pages')).keys()).map(({ url }) => new URL(url).pathname)"


@contextmanager
def a_stand(
    engine: Engine, playwright: Playwright, air: Air, house: House, name: str
) -> Iterator[tuple[Window, Student]]:
    """Open a new student's private link in an engine."""
    student = a_student(house, name)
    secret, _ = house.studio.access.make_link(student.id, lasts=HOUR)
    with a_window(engine, air, playwright) as window:
        window.address = house.served.address
        window.open(f"/s/{secret}")
        window.until(READY)
        yield window, student


def record(window: Window, air: Air, end: str = "document.getElementById('go').click()") -> None:
    """Record a take without a click, from start to its end."""
    window.press("label:has(input[name=place][value=off])")
    with air.alone():
        window.press("#go")
        window.says("#status", "^Recording")
        air.play(played().wav)
        window.run(end)


@pytest.fixture
def own_house(folder: Path) -> Iterator[House]:
    """Serve a studio that a test may end and begin again."""
    a_studio(folder).close()
    with Served(folder / "studio") as served, Studio.open(folder / "studio", hasher=QUICK) as studio:
        yield House(served, studio, NOBODY)


def test_the_day_opens_without_a_network_and_what_was_played_goes_later_once(
    engine: Engine, playwright: Playwright, air: Air, own_house: House
) -> None:
    with a_stand(engine, playwright, air, own_house, "Tilda Wenham") as (window, student):
        window.until(f"({CACHED}).filter((path) => path.startsWith('/stand/practice/')).length >= 2")
        own_house.served.kill()
        window.open("/stand")
        window.until(READY)
        record(window, air)
        window.says("#heard-line", "No connection. The recording is kept")
        window.goto("about:blank")
        window.open("/stand")
        window.says("#kept", "of Paradiddle")
        assert own_house.studio.takes.all(student.id) == []
        own_house.served.start()
        window.says("#kept", "It has arrived")
        window.open("/stand/takes")
        (take,) = own_house.studio.takes.all(student.id)
        assert take.source == "microphone"
        window.follow("form[action='/stand/leave'] button")
        window.until("(await caches.keys()).every((name) => name === 'evenhand-shell')")
        own_house.served.kill()
        window.goto(f"{window.address}/stand")
        assert "Paradiddle" not in window.seen()
        own_house.served.start()


CALLED = """
window.opened = [];
const open = MediaDevices.prototype.getUserMedia; // WebKit forgets what is set on navigator's own objects
MediaDevices.prototype.getUserMedia = async function (asked) {
  const stream = await open.call(this, asked);
  window.opened.push({ asked: asked.audio, stream });
  return stream;
};
window.locks = [];
WakeLock.prototype.request = async (kind) => {
  window.locks.push(kind);
  return { release: async () => window.locks.push("released") };
};
const Original = window.AudioContext;
window.AudioContext = class extends Original {
  constructor(...options) { super(...options); window.context = this; }
};
"""
OLD = """
Object.defineProperty(BaseAudioContext.prototype, "audioWorklet", { value: undefined });
const told = MediaStreamTrack.prototype.getSettings;
MediaStreamTrack.prototype.getSettings = function () {
  return { ...told.call(this), noiseSuppression: true };
};
"""
FORMATS = """
const stream = await navigator.mediaDevices.getUserMedia({ audio: { echoCancellation: false } });
const kinds = ["audio/webm;codecs=opus", "audio/ogg;codecs=opus", "audio/mp4"];
window.recorders = kinds.filter((kind) => MediaRecorder.isTypeSupported(kind)).map((mimeType) => {
  const made = { mimeType, recorder: new MediaRecorder(stream, { mimeType }), parts: [] };
  made.recorder.ondataavailable = ({ data }) => made.parts.push(data);
  made.recorder.start();
  return made;
});
return window.recorders.map(({ mimeType }) => mimeType);
"""
SEND = """
const kinds = [];
for (const { mimeType, recorder, parts } of window.recorders) {
  await new Promise((done) => { recorder.onstop = done; recorder.stop(); });
  const form = new FormData(document.querySelector("#upload form"));
  form.set("recording", new Blob(parts, { type: mimeType }), "take");
  form.set("click", "off");
  form.set("upload_key", `file-of-a-recorder-${kinds.length}`);
  const headers = { Accept: "application/json", "X-Evenhand-Csrf": document.body.dataset.csrf };
  const { status } = await fetch("/stand/takes", { method: "POST", body: form, headers });
  kinds.push([mimeType, status]);
}
return kinds;
"""


def heard_takes(house: House, student: Student, count: int = 1) -> list[StudioTake]:
    """Return the student's takes, once there are so many and all are heard."""
    end_s = time.monotonic() + 60
    while True:
        takes = house.studio.takes.all(student.id, with_heard=True)
        if [take.status for take in takes] == ["heard"] * count:
            return takes
        assert time.monotonic() < end_s, [(take.status, take.reason) for take in takes]
        time.sleep(0.05)


def as_played(take: StudioTake) -> int:
    """Count the intervals between its hits, one after the other, that are those played, within 5 ms.

    A busy machine drops sound, which spoils one interval; where the first stroke is lost the hands are told
    wrongly, and that is the ear's matter.
    """
    heard = heard_take_of(take.heard or "")
    assert heard is not None
    hits = [hit.time_s for hit in heard.heard.hits] + [extra.time_s for extra in heard.heard.extra]
    found_s = np.diff(sorted(hits))
    true_s = np.diff(played().notes_s)
    counts = []
    for later in range(-4, 5):
        pairs = [(found_s[k], true_s[k + later]) for k in range(len(found_s)) if 0 <= k + later < len(true_s)]
        counts.append(len([one for one, other in pairs if abs(one - other) < 0.005]))
    return max(counts)


def test_a_call_ends_the_take_keeps_it_and_lets_the_day_go_on(
    engine: Engine, playwright: Playwright, air: Air, house: House
) -> None:
    with a_stand(engine, playwright, air, house, f"Una {engine}") as (window, student):
        window.run(CALLED)
        record(window, air, end="await window.context.suspend()")  # by a call: 'interrupted' on an iPhone
        window.says("#trouble", "was interrupted. What was played until then is kept")
        window.says("#status", "^Stopped here")
        asked = window.run("return window.opened[0].asked")
        assert {key: asked[key] for key in PROCESSED} == dict.fromkeys(PROCESSED, False)
        window.press("#go")
        window.says("#status", "^Recording")
        assert window.run("return window.opened.length") == 2  # the first may have been lent to the call
        assert window.run("return window.locks") == ["screen"]
        if engine == "firefox":  # which lets no script say that a track is mute
            window.press("#go")
        else:
            window.run("window.opened[1].stream.getAudioTracks()[0].dispatchEvent(new Event('mute'))")
            window.says("#status", "^Stopped here")
            window.press("#finish")
        window.until("window.locks.at(-1) === 'released'")
        (take,) = heard_takes(house, student)
        assert take.facts["rate"] == str(window.run("return window.context.sampleRate"))
        assert take.facts["rate"] in {"44100", "48000"}
        assert "processed" not in take.facts


def test_without_a_worklet_and_with_processing_that_stays_on_it_is_recorded_and_flagged(
    engine: Engine, playwright: Playwright, air: Air, house: House
) -> None:
    with a_stand(engine, playwright, air, house, f"Old {engine}") as (window, student):
        window.run(OLD)
        record(window, air)
        window.says("#trouble", "This browser changes the microphone's sound")
        (take,) = heard_takes(house, student)
        assert take.facts["processed"] == "noise"
        assert as_played(take) >= MOST_AS_PLAYED


def test_what_the_engine_s_own_recorder_writes_is_heard(
    engine: Engine, playwright: Playwright, air: Air, house: House
) -> None:
    with a_stand(engine, playwright, air, house, f"File {engine}") as (window, student):
        with air.alone():
            kinds = window.run(FORMATS)
            if engine == "webkit":  # Debian's writes nothing into it; AAC is held by tests of files
                assert kinds == ["audio/mp4"]
                return
            air.play(played().wav)
            assert [status for _, status in window.run(SEND)] == [202] * len(kinds)
        files = heard_takes(house, student, len(kinds))
        assert [take.source for take in files] == ["upload"] * len(kinds)
        for take in files:
            assert as_played(take) >= MOST_AS_PLAYED, take.original_name


def test_a_delay_is_measured_in_the_room_and_that_of_wireless_headphones_too(
    engine: Engine, playwright: Playwright, air: Air, house: House
) -> None:
    if engine == "webkit":
        pytest.skip("WebKitGTK's sound comes by GStreamer, up to 0.3 s early or late: no delay to measure")
    with a_stand(engine, playwright, air, house, f"Delay {engine}") as (window, student):
        window.run("document.getElementById('settings').open = true")

        def measure() -> int:
            said = ""
            for _ in range(TRIES):  # a busy machine drops sound: "not clearly, try again", as it says
                window.run("document.getElementById('delay-said').textContent = ''")
                window.press("#delay:enabled")
                said = window.says("#delay-said", "^(Measured. .*clicks|The clicks were not).*")
                if found := re.search(r"Measured. (\d+) ms .* [678] clicks", said):
                    return int(found[1])
            pytest.fail(said)

        with air.alone():
            near_ms = measure()
        with air.alone(), air.wireless():
            far_ms = measure()
            window.says("#delay-said", "that of wireless headphones")
        found = (near_ms, far_ms)
        assert 0.8 * WIRELESS_MS < far_ms - near_ms < 1.5 * WIRELESS_MS, found
        (device,) = house.studio.students.devices(student.id)
        assert device.latency_ms == pytest.approx(far_ms, abs=1)
