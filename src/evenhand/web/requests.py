"""What views take from a request, each in one way, and the answers that several of them give.

Conventions: what is not there is raised as ``NotFound``, what cannot be taken as ``RequestRefused``; the
application answers both (``app.py``), as JSON where that was asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from starlette.datastructures import UploadFile
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from evenhand.studio.store.studio import Studio
from evenhand.studio.values import NewTake, Student, StudioTake
from evenhand.web.forms import RequestRefused

AT_ONCE = 1 << 20
MOST_NAME = 200
MEDIA = ("audio/", "video/")
OTHER_MEDIA = frozenset({"", "application/octet-stream", "application/ogg", "application/x-midi"})
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


def studio_of(request: Request) -> Studio:
    """Return the studio that is served."""
    studio: Studio = request.app.state.studio
    return studio


def student_of(request: Request) -> Student:
    """Return the student that the address names."""
    return studio_of(request).students.get(request.path_params["student_id"])


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


def keep_recording(request: Request, new: NewTake, file: UploadFile) -> tuple[StudioTake, bool]:
    """Keep a take with its recording, and let it be heard; sent twice, the second answer says False."""
    takes = studio_of(request).takes
    with takes.unfinished_file() as place:
        with place.open("wb") as out:
            while block := file.file.read(AT_ONCE):
                out.write(block)
        take, is_new = takes.receive(new, place, original_name=new.name)
    if is_new:
        wake_workers(request)
    return take, is_new


def wake_workers(request: Request) -> None:
    """Tell the workers that a take waits, where they are this server's own."""
    pool = getattr(request.app.state, "worker_pool", None)
    if pool is not None:
        pool.wake()


def sound_answer(path: Path) -> Response:
    """Give a recording, whole or the part that is asked for; a kind that no browser plays as a download."""
    kind = SOUND_KINDS.get(path.suffix)
    return FileResponse(
        path,
        media_type=kind or "application/octet-stream",
        content_disposition_type="inline" if kind else "attachment",
        filename=None if kind else f"take{path.suffix}",
        headers={"Cache-Control": "private, max-age=3600"},
    )


def pdf_answer(content: bytes, name: str) -> Response:
    """Give a printed page, to be shown in the browser and stored nowhere."""
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"', "Cache-Control": "no-store"}
    return Response(content, media_type="application/pdf", headers=headers)
