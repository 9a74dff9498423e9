"""The entries that go through libraries in C, a database, or the whole application.

A request is drawn as bytes: ``method path`` and headers in lines, an empty line, the body; ``{...}`` in a
path stands for what is there (a student's id, a link's secret). A live socket's messages are lines.
"""

from __future__ import annotations

import asyncio
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from evenhand.errors import BadExport, CannotHear, CannotKeep
from evenhand.media.write import write_flac
from tests.fuzz.entries import PARSED, Entry, Made, a_recording, in_words
from tests.media_files import blows

CODED = {
    "m4a": ("aac", "alac"), "mp4": ("aac", "libopus"), "mov": ("pcm_s16le",), "webm": ("libopus",),
    "mkv": ("flac",), "aac": ("aac",), "ts": ("aac", "mp2"), "caf": ("alac", "pcm_s16be"),
    "aiff": ("pcm_s16be",), "ac3": ("ac3",), "3gp": ("aac",), "opus": ("libopus",),
}  # fmt: skip
FILMED = (("film.mp4", "libx264"), ("film.mkv", "libvpx-vp9"), ("film.mov", "mpeg4"))
PRINTABLE = "".join(map(chr, range(0x21, 0x7F)))
NAMES = re.compile(rb"\{(\w+)\}")


def coded(folder: Path) -> Made:
    """Decode recordings of every format, by the decoding child."""
    from benchmarks.encoding import encode, write_mp3, write_ogg

    samples = blows(48_000, 0.6)
    write_flac(folder / "a.flac", samples, 48_000)
    write_mp3(folder / "a.mp3", samples, 48_000)
    write_ogg(folder / "a.ogg", samples, 48_000)
    for ending, codecs in CODED.items():
        for codec in codecs:
            encode(folder / f"{codec}.{ending}", samples, 48_000, codec=codec)  # type: ignore[arg-type]  # by the table
    return a_recording(folder), [file.read_bytes() for file in sorted(folder.glob("*.*"))]


def films(folder: Path) -> Made:
    """Look at films by the decoding child, and hear their sound."""
    from evenhand.media.film.reader import FilmReader
    from tests.films import a_film

    seeds = [a_film(folder / name, codec=codec, seconds=0.5, hits_s=(0.1,)) for name, codec in FILMED]
    reader, place, hears = FilmReader(), folder / "film", a_recording(folder)

    def tries(content: bytes) -> None:
        place.write_bytes(content)
        with suppress(CannotHear):
            if reader.is_film(place):
                reader.sample(place)
        hears(content)

    return tries, [film.read_bytes() for film in seeds]


def _of_a_studio(folder: Path, writes: Any, reads: Any) -> Made:
    """Write a file of a full studio, and read files like it; one that is refused leaves nothing."""
    import shutil

    from tests.full_studio import fill
    from tests.studios import a_studio

    (folder / "first").mkdir()
    with a_studio(folder / "first") as studio:
        fill(studio)
        writes(studio, folder / "good.zip")
    place, there = folder / "x.zip", folder / "there"

    def tries(content: bytes) -> None:
        place.write_bytes(content)
        try:
            reads(place, there)
        except (BadExport, CannotKeep) as refusal:
            in_words(refusal)
            assert not there.exists()
        shutil.rmtree(there, ignore_errors=True)

    return tries, [(folder / "good.zip").read_bytes()]


def export(folder: Path) -> Made:
    """Bring in a studio's export."""
    from evenhand.studio.safekeeping.export import export_studio, import_studio

    return _of_a_studio(folder, export_studio, lambda path, there: import_studio(path, there).close())


def backup(folder: Path) -> Made:
    """Restore a studio's backup."""
    from evenhand.studio.safekeeping.backup import back_up, restore

    return _of_a_studio(folder, back_up, restore)


@contextmanager
def _house(folder: Path) -> Iterator[Any]:
    """Furnish a studio as the tests of the routes do."""
    from tests.web.conftest import a_house

    with a_house(folder) as house:
        yield house


def requests(folder: Path) -> Made:
    """Ask whole requests: addresses, questions, headers, cookies, forms; no answer is an error of ours."""
    from tests.web.walked import GETS, POSTS

    house = _house(folder).__enter__()
    known = {**house.names}
    for who in ("teacher", "student"):
        client = house.client(who)
        (cookie,) = client.cookies.jar
        known |= {who: f"{cookie.name}={cookie.value}", f"{who}_csrf": client.headers["x-evenhand-csrf"]}
    filled = {name.encode(): value.encode() for name, value in known.items()}

    def tries(content: bytes) -> None:
        from evenhand.web.guard import Limiter

        house.app.state.limiter = Limiter()
        whole = NAMES.sub(lambda found: filled.get(found[1], found[0]), content)
        head, _, body = whole.partition(b"\n\n")
        first, *lines = head.split(b"\n")
        method, _, target = first.partition(b" ")
        assert asked(house.app, method, target, lines, body) < 500

    return tries, [*map(_asking, GETS), *(each for route in POSTS for each in _posting(route))]


def _asking(route: Any) -> bytes:
    return f"GET {route.path}?day=2026-03-02&week=1\ncookie: {{{route.who}}}\naccept: text/html\n\n".encode()


def _posting(route: Any) -> Iterator[bytes]:
    """Give a form of each kind, with some of the fields that pages have."""
    from tests.web.test_odd_input import FIELDS

    head = f"POST {route.path}\norigin: http://testserver\ncookie: {{{route.who}}}\n"
    head += f"x-evenhand-csrf: {{{route.who}_csrf}}\n"
    pairs = "&".join(f"{name}=1" for name in FIELDS[:40])
    yield (head + f"content-type: application/x-www-form-urlencoded\n\n{pairs}").encode()
    parts = "".join(
        f'--x\r\ncontent-disposition: form-data; name="{name}"\r\n\r\n2026-03-02\r\n' for name in FIELDS[::9]
    )
    file = (
        '--x\r\ncontent-disposition: form-data; name="recording"; filename="a.wav"\r\n\r\nRIFF\r\n--x--\r\n'
    )
    yield (head + f"content-type: multipart/form-data; boundary=x\n\n{parts}{file}").encode()


def asked(app: Any, method: bytes, target: bytes, lines: list[bytes], body: bytes) -> int:
    """Ask the application as its server would, with bytes as they came; give the status."""
    from urllib.parse import quote, unquote

    # The server's own parser lets no other bytes into an address: it answers 400 to them.
    target, method = quote(target, safe=PRINTABLE).encode(), re.sub(rb"[^A-Za-z]", b"", method) or b"GET"
    path, _, query = target.partition(b"?")
    headers = [
        (name.strip().lower(), value.strip()) for name, _, value in (line.partition(b":") for line in lines)
    ]
    there = {name for name, _ in headers}
    headers += [(b"host", b"testserver")] * (b"host" not in there)
    headers += [(b"content-length", str(len(body)).encode())] * (b"content-length" not in there)
    scope = {
        "type": "http", "method": method.decode("latin-1").upper(), "path": unquote(path.decode("latin-1")),
        "raw_path": path, "query_string": query, "http_version": "1.1", "scheme": "http", "headers": headers,
        "client": ("192.0.2.9", 4000), "server": ("testserver", 80), "state": {},
    }  # fmt: skip
    coming = iter([{"type": "http.request", "body": body, "more_body": False}])
    status: list[int] = []

    async def receive() -> dict[str, Any]:
        return next(coming, {"type": "http.disconnect"})

    async def send(message: dict[str, Any]) -> None:
        if message["type"] == "http.response.start":
            status.append(message["status"])

    asyncio.run(app(scope, receive, send))
    return status[0] if status else 0


def live_socket(folder: Path) -> Made:
    """Say messages to a live socket, one a line: text, or after ``!`` sound."""
    from tests.web.stands import ORIGIN, a_stand

    stand = a_stand(folder).__enter__()
    begin = b'{"rate": 48000, "exercise": "1/8: RLRR LRLL", "tempo": "1/4=110", "first_note_s": 0.5}'

    def tries(content: bytes) -> None:
        from starlette.websockets import WebSocketDisconnect

        with (
            suppress(WebSocketDisconnect),
            stand.client.websocket_connect("/stand/live", headers=ORIGIN) as socket,
        ):
            for line in content.split(b"\n"):
                if line.startswith(b"!"):
                    socket.send_bytes(line[1:])
                else:
                    socket.send_text(line.decode("utf-8", "replace"))

    return tries, [begin + b"\n!" + bytes(1024) + b'\n{"end": true}', begin + b"\n!abc", b'{"rate": 48000}']


def calendars(folder: Path) -> Made:
    """Move lessons, with names and notes: the calendar's file stays one that can be read."""
    import icalendar

    house = _house(folder).__enter__()
    client = house.client("teacher")
    secret = house.studio.lessons.make_feed()

    def tries(content: bytes) -> None:
        from evenhand.web.guard import Limiter

        house.app.state.limiter = Limiter()
        name, day, time, note, *_ = [*content.decode("utf-8", "replace").split("\n"), "", "", "", ""]
        client.post(f"/students/{house.ida.id}", data={"name": name, "lesson_day": "0", "lesson_time": time})
        client.post(
            "/lessons/holidays", data={"from": day, "first": day, "last": day, "name": note, "words": note}
        )
        answer = client.get(f"/calendar/{secret}/lessons.ics")
        assert answer.status_code == 200
        icalendar.Calendar.from_ical(answer.text)

    return tries, [b"Ida Quill\n2026-03-02\n15:30\nspring", 'A;B,C\\n\n2026-12-31\n00:00\n\u2028:"'.encode()]


ENTRIES = (
    *PARSED,
    Entry("recordings, coded", coded),
    Entry("films", films),
    Entry("export (zip)", export),
    Entry("backup (zip)", backup),
    Entry("requests", requests),
    Entry("live socket", live_socket),
    Entry("calendar", calendars),
)
