"""What a request brings: read no further than its route takes, and by every view in one way.

Conventions: bytes are counted as they come; ``largest_bytes`` bounds a whole request. What of it is not
a file is held in memory, so all fields of a form together have a bound of their own. What is too much or
cannot be taken is ``RequestRefused``, what is not there ``NotFound``; the application answers both
(``app.py``), as JSON where that was asked for.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import AsyncGenerator, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

from python_multipart.multipart import parse_options_header
from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, Headers, UploadFile
from starlette.exceptions import HTTPException
from starlette.formparsers import FormParser, MultiPartException, MultiPartParser
from starlette.requests import HTTPConnection, Request
from starlette.responses import FileResponse, RedirectResponse, Response
from starlette.types import Receive, Scope, Send

from evenhand.errors import NotFound
from evenhand.studio.school import School
from evenhand.studio.store.recordings import Sent
from evenhand.studio.store.studio import Studio
from evenhand.studio.store.takes import Takes
from evenhand.studio.values import TEACHER, NewTake, Student, StudioTake
from evenhand.web.serving import is_loopback

MOST_FILES, MOST_FIELDS = 8, 5000
MOST_FIELD_BYTES = 1 << 20  # of all fields of a form together
MOST_HEADER_BYTES = 1 << 16  # of all parts' headers together
SMALL_BYTES = 1 << 20  # up to here a request is not counted among those that come at once
MOST_COMING_BYTES = 2 << 30  # of all large requests at once
MOST_PAGES_EACH = 12  # a student with two browsers: six connections each (common practice)
MOST_WAIT_S = 20.0  # for news of a take
MOST_WAITING_EACH = 24  # such questions of one visitor: a few pages on each of a few devices
MOST_UPLOADS_EACH = 6  # large requests of one visitor at once
URLENCODED, MULTIPART = "application/x-www-form-urlencoded", "multipart/form-data"


class RequestRefused(HTTPException):
    """What came is not taken: why, and the answer's status."""

    def __init__(self, words: str, status: int = 422) -> None:
        super().__init__(status, words)

    def __str__(self) -> str:
        """Say why."""
        return self.detail


class RequestTooLarge(RequestRefused):
    """More came than the route takes."""

    def __init__(self, largest_bytes: int) -> None:
        super().__init__(f"That is too large: at most {largest_bytes / (1 << 20):g} MB.", 413)


class _Parts(MultiPartParser):
    """Reads parts, their fields and headers counted over all of them."""

    fields_bytes = 0
    headers_bytes = 0

    def on_part_data(self, data: bytes, start: int, end: int) -> None:
        """Take in more of a part."""
        if self._current_part.file is None:
            self.fields_bytes += end - start
            if self.fields_bytes > MOST_FIELD_BYTES:
                raise RequestTooLarge(MOST_FIELD_BYTES)
        super().on_part_data(data, start, end)

    def on_header_field(self, data: bytes, start: int, end: int) -> None:
        """Take in more of a header's name."""
        self._count(end - start)
        super().on_header_field(data, start, end)

    def on_header_value(self, data: bytes, start: int, end: int) -> None:
        """Take in more of a header's value."""
        self._count(end - start)
        super().on_header_value(data, start, end)

    def _count(self, more: int) -> None:
        self.headers_bytes += more
        if self.headers_bytes > MOST_HEADER_BYTES:
            raise RequestTooLarge(MOST_HEADER_BYTES)


class Occupancy:
    """Counts what goes on at once, in all and of each visitor, so that none takes all the room.

    Such are the pages in the making, the bytes that large requests said they bring (they lie in temporary
    files while they come), and the takes that are heard live.
    """

    def __init__(self, most_each: int, most: float = math.inf, *, small: int = 0) -> None:
        self._most_each, self._most, self._small = most_each, most, small
        self._taken, self._each = 0, Counter[str]()

    @contextmanager
    def room_for(self, who: str, size: int = 1) -> Iterator[bool]:
        """Tell whether there is room for one thing more, of a size; hold it until the end."""
        if size <= self._small:
            yield True
            return
        if self._taken + size > self._most or self._each[who] >= self._most_each:
            yield False
            return
        self._taken += size
        self._each[who] += 1
        try:
            yield True
        finally:
            self._taken -= size
            self._each[who] -= 1
            self._each = +self._each


def length_of(headers: Mapping[str, str]) -> int | None:
    """Return the length that a request says it has; None where it says none that can be believed.

    A request in chunks says none; one that says both could mean two things to two readers (RFC 9112, 6.3).
    """
    length = headers.get("content-length", "")
    if "transfer-encoding" in headers or not (length.isascii() and length.isdecimal()) or len(length) > 15:
        return None
    return int(length)


async def read_form(request: Request, largest_bytes: int) -> FormData | dict[str, Any]:
    """Read a request's form; empty where it brings none.

    Raises
    ------
    RequestTooLarge
        More came than the route takes, whatever length was said.
    HTTPException
        It is no form.
    """
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in {URLENCODED, MULTIPART}:
        return {}
    if not _is_utf_8(request.headers.get("content-type", "")):
        raise HTTPException(415, "A form must be in UTF-8.")
    most = largest_bytes if kind == MULTIPART else min(largest_bytes, MOST_FIELD_BYTES)
    parts = _parser(kind, request.headers, counted(request, most))
    try:
        form = await parts.parse()
    except MultiPartException as error:
        raise HTTPException(400, "That form cannot be read.") from error
    request._form = form  # noqa: SLF001 - so that its files are closed with the request, as Starlette's own
    return form


def _is_utf_8(content_type: str) -> bool:
    """Tell whether a form is in UTF-8, as browsers send it; some other codes take very long to read."""
    _, options = parse_options_header(content_type)
    return options.get(b"charset", b"utf-8").lower() in {b"utf-8", b"utf8"}


def _parser(kind: str, headers: Headers, stream: AsyncGenerator[bytes, None]) -> FormParser | MultiPartParser:
    if kind == URLENCODED:
        return FormParser(headers, stream, max_fields=MOST_FIELDS, max_part_size=MOST_FIELD_BYTES)
    return _Parts(
        headers, stream, max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=MOST_FIELD_BYTES
    )


async def counted(request: Request, largest_bytes: int) -> AsyncGenerator[bytes, None]:
    """Pass a request's bytes on, and stop where they are too many."""
    came = 0
    async for chunk in request.stream():
        came += len(chunk)
        if came > largest_bytes:
            raise RequestTooLarge(largest_bytes)
        yield chunk


_SHA256 = re.compile(r"[0-9a-f]{64}", re.ASCII)
_RANGE = re.compile(r"bytes=(\d{1,12})?-(\d{1,12})?", re.ASCII)
AT_ONCE = 1 << 20
MOST_NAME = 200
MEDIA = ("audio/", "video/")
OTHER_MEDIA = frozenset({"", "application/octet-stream", "application/ogg", "application/x-midi"})
FILM_KINDS: Mapping[str, str] = {".mp4": "video/mp4", ".webm": "video/webm"}
SOUND_KINDS: Mapping[str, str] = {
    ".flac": "audio/flac",
    ".wav": "audio/wav",
    ".ogg": "audio/ogg",
    ".webm": "audio/webm",
    ".m4a": "audio/mp4",
    ".mp4": "audio/mp4",
    ".mp3": "audio/mpeg",
    ".aiff": "audio/aiff",
    ".caf": "audio/x-caf",
}


def studio_of(request: HTTPConnection) -> Studio:
    """Return the studio of whoever asks; of who has not said yet who they are, the school's front."""
    found: Studio | None = getattr(request.state, "studio", None)
    return found or school_of(request).front


def studio_of_link(request: Request) -> Studio:
    """Return the studio that the secret in the address opens; the front, where it opens none."""
    found = school_of(request).of_secret(request.path_params["secret"])
    if found is not None:
        request.state.studio = found
    return studio_of(request)


def school_of(request: HTTPConnection) -> School:
    """Return all that is served: a school, or one studio."""
    school: School = request.app.state.school
    return school


def address_of(request: Request) -> str:
    """Return where others reach the studio: as it was asked; from this computer, as it is known outside."""
    outside: tuple[str, ...] = request.app.state.settings.origins
    if is_loopback(request.base_url.hostname or "") and outside:
        return outside[0]
    return str(request.base_url).rstrip("/")


def student_of(request: Request) -> Student:
    """Return the student that the address names."""
    student = studio_of(request).students.get(request.path_params["student_id"])
    if student.id == TEACHER:
        raise NotFound(what="this student")
    return student


def take_of(request: Request, name: str = "take_id") -> StudioTake:
    """Return the take that the address names."""
    return studio_of(request).takes.get(request.path_params[name])


def texts_of(request: Request) -> dict[str, str]:
    """Return the texts of the form that came; none where none came."""
    form = getattr(request.state, "form", {})
    return {key: value for key, value in form.items() if isinstance(value, str)}


def wants_json(request: Request) -> bool:
    """Tell whether the answer is to be JSON."""
    return "application/json" in request.headers.get("accept", "")


def is_part(request: Request) -> bool:
    """Tell whether the page's script asks, for a part of the page."""
    return request.headers.get("hx-request") == "true"


def recording_of(request: Request) -> tuple[UploadFile, str]:
    """Return the recording that a form brings, and what its file is called."""
    file = request.state.form.get("recording")
    if not isinstance(file, UploadFile) or not file.size:
        raise RequestRefused("Choose a file with the recording first. What you typed is still here.")
    kind = (file.content_type or "").partition(";")[0].strip().lower()
    if not kind.startswith(MEDIA) and kind not in OTHER_MEDIA:
        raise RequestRefused(f"A recording must be a sound, video or MIDI file; this is {kind}.", 415)
    return file, " ".join((file.filename or "").split())[:MOST_NAME]


def sent_past_us(request: Request, student: Student, name: str) -> Sent | None:
    """Return what the student sent by a ticket, as the form names it; None where it names nothing."""
    sha256 = texts_of(request).get(name, "")
    if sha256 and _SHA256.fullmatch(sha256) is None:
        raise RequestRefused("A recording that was sent is named by its SHA-256, 64 hexadecimal digits.")
    return Sent(student.id, sha256) if sha256 else None


def film_of_form(request: Request) -> UploadFile | None:
    """Return the pictures that a form brings beside its recording; None where it brings none."""
    film = request.state.form.get("film")
    if not isinstance(film, UploadFile) or not film.size:
        return None
    kind = (film.content_type or "").partition(";")[0].strip().lower()
    if not kind.startswith("video/"):
        raise RequestRefused(
            f"The film beside a recording must be a video; this is {kind or 'nothing'}.", 415
        )
    return film


def keep_recording(
    request: Request, new: NewTake, file: UploadFile | Sent, film: UploadFile | Sent | None = None
) -> tuple[StudioTake, bool]:
    """Keep a take with its recording, and let it be heard; sent twice, the second answer says False."""
    takes = studio_of(request).takes
    with ExitStack() as lent:
        place, beside = (
            written_file(lent, takes, each) if isinstance(each, UploadFile) else each for each in (file, film)
        )
        take, is_new = takes.receive(new, place or b"", original_name=new.name, film=beside)
    request.state.thing = f"take {take.id}"
    if is_new:
        wake_workers(request)
    return take, is_new


def written_file(lent: ExitStack, takes: Takes, file: UploadFile) -> Path:
    """Write what came to a file of the studio's, which is gone with the block."""
    place = lent.enter_context(takes.unfinished_file())
    with place.open("wb") as out:
        while block := file.file.read(AT_ONCE):
            out.write(block)
    return place


def wake_workers(request: Request) -> None:
    """Tell the workers that a take waits, where they are this server's own."""
    hearing = getattr(request.app.state, "hearing", None)
    if hearing is not None:
        hearing.wake()


class KeptFile(FileResponse):
    """A kept file; one that was deleted since it was looked up is not found."""

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer."""
        if not await run_in_threadpool(Path(self.path).is_file):
            await Response(status_code=404)(scope, receive, send)
            return
        await super().__call__(scope, receive, send)


def sound_answer(
    request: Request, key: str | None, kinds: Mapping[str, str] = SOUND_KINDS, what: str = "this recording"
) -> Response:
    """Give a recording, whole or the part that is asked for; a kind that no browser plays as a download.

    Where browsers reach the store of recordings themselves it is a link that is good for some minutes: who
    may have it was looked at before.
    """
    if key is None:
        raise NotFound(what=what)
    recordings, suffix = studio_of(request).data.recordings, Path(key).suffix
    kind = kinds.get(suffix)
    headers = {
        "Content-Type": kind or "application/octet-stream",
        "Content-Disposition": "inline" if kind else f'attachment; filename="take{suffix}"',
    }
    url = recordings.link(key, {**headers, "Cache-Control": "private, no-store"})
    if url is not None:
        return RedirectResponse(url, 302, {"Cache-Control": "no-store"})
    return KeptFile(recordings.path(key), headers={**headers, "Cache-Control": "private, max-age=3600"})


def bytes_answer(request: Request, content: bytes, media_type: str) -> Response:
    """Give a small sound that is in memory, whole or the one part that is asked for (RFC 9110, 14)."""
    headers = {"Accept-Ranges": "bytes", "Cache-Control": "private, max-age=3600"}
    found = _RANGE.fullmatch(request.headers.get("range", ""))
    if found is None:
        return Response(content, media_type=media_type, headers=headers)
    first, last = (int(each) if each else None for each in found.groups())
    start = max(len(content) - (last or 0), 0) if first is None else first
    end = len(content) if first is None or last is None else min(last + 1, len(content))
    if start >= end:
        return Response(status_code=416, headers={"Content-Range": f"bytes */{len(content)}"})
    headers["Content-Range"] = f"bytes {start}-{end - 1}/{len(content)}"
    return Response(content[start:end], status_code=206, media_type=media_type, headers=headers)


def pdf_answer(content: bytes, name: str) -> Response:
    """Give a printed page, to be shown in the browser and stored nowhere."""
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "no-store"}
    return Response(content, media_type="application/pdf", headers=headers)
