"""Read a film's pictures in the decoding child: some of its frames, or the coloured patches in all of them.

What comes back is small, however long the film is: frames are looked at where they are decoded.
"""

from __future__ import annotations

import base64
import json
import struct
import zlib
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from evenhand.arrays import Floats
from evenhand.errors import UnreadableRecording
from evenhand.film import Blobs, Colours, Cut, FilmFacts, FilmSample, Picture, SampledFrame, SeenFilm
from evenhand.media import refusals
from evenhand.media.decoder import Asked, Decoder, DecoderEnded, shared_decoder
from evenhand.media.decoding import container_name
from evenhand.take import Progress

LONGEST_FILM_S = 30 * 60
SHORTEST_SIDE_PX = 160
SLOWED = 1.5  # filmed so many times faster than it is shown
COLUMNS = 5  # of a patch's row; as the child writes it
_HEAD = struct.Struct("<dII")
Taking = Callable[[bytes, bytearray], None]


class FilmReader:
    """Looks at films by the decoding child."""

    def __init__(self, decoder: Decoder | None = None) -> None:
        self.decoder = decoder or shared_decoder()

    def is_film(self, path: Path) -> bool:
        """Tell whether a recording has moving pictures: a song's cover is none."""
        found: dict[str, Any] = {}
        try:
            self._messages(path, {"only": "kind"}, lambda _kind, body: found.update(json.loads(body)))
        except UnreadableRecording:
            return False
        return bool(found.get("film"))

    def sample(self, path: Path) -> FilmSample:
        """Look at some of a film's frames.

        Raises
        ------
        UnreadableRecording
            It has no pictures, or they cannot be decoded.
        StretchedTime
            It is slow motion.
        """
        frames: list[SampledFrame] = []
        head: dict[str, Any] = {}

        def take(kind: bytes, body: bytearray) -> None:
            if kind == b"f":
                frames.append(_frame(body))
            else:
                head.update(json.loads(body))

        self._messages(path, {}, take)
        facts = _facts(path, head)
        return FilmSample(facts, tuple(sorted(frames, key=lambda frame: frame.time_s)), head["grid_px"])

    def look(self, path: Path, colours: Colours, progress: Progress | None = None) -> SeenFilm:
        """Look for colours in all of a film's frames.

        Raises
        ------
        UnreadableRecording
            The decoder cannot cope with it.
        """
        times: list[Floats] = [np.zeros(0)]
        rows: list[Floats] = [np.zeros((0, COLUMNS))]
        promised_s = [0.0]

        def take(kind: bytes, body: bytearray) -> None:
            if kind == b"t":
                times.append(np.frombuffer(body, np.float64))
                if progress is not None and promised_s[0] > 0 and times[-1].size:
                    progress(min(max(float(times[-1][-1]) / promised_s[0], 0.0), 1.0))
            elif kind == b"b":
                rows.append(np.frombuffer(body, np.float64).reshape(-1, COLUMNS))
            elif kind == b"h":
                promised_s[0] = json.loads(body)["seconds"]

        self._messages(path, _as_asked(colours), take)
        return SeenFilm(np.concatenate(times), _blobs(np.concatenate(rows)))

    def show(self, path: Path, cut: Cut, take: Callable[[float, Picture], None]) -> None:
        """Give pictures one by one, each of shape (height, width, 3) with its time; errors as of ``look``."""

        def taken(kind: bytes, body: bytearray) -> None:
            if kind == b"p":
                time_s, rows, columns = _HEAD.unpack_from(body)
                take(time_s, np.frombuffer(body, np.uint8, offset=_HEAD.size).reshape(rows, columns, 3))

        self._messages(path, asdict(cut), taken)

    def _messages(self, path: Path, asked: Asked, take: Taking) -> None:
        """Ask the child, and take what it answers."""
        messages = self.decoder.messages(path, asked)
        try:
            for kind, body in messages:
                if kind == b"x":
                    raise _refused(path, json.loads(body)["why"])
                if kind != b"e":
                    take(kind, body)
        except DecoderEnded as ended:
            raise refusals.decoder_ended(path, ended.why) from None
        finally:
            messages.close()


def _refused(path: Path, why: str) -> UnreadableRecording:
    return refusals.no_container(path, b"") if why == "no_container" else refusals.refusal(path, why)


def _frame(body: bytearray) -> SampledFrame:
    time_s, rows, columns = _HEAD.unpack_from(body)
    planes = np.frombuffer(body, np.uint8, offset=_HEAD.size).reshape(3, rows, columns)
    return SampledFrame(time_s, *planes)


def _facts(path: Path, head: dict[str, Any]) -> FilmFacts:
    """Check what a film says of itself.

    A film that says it was filmed much faster than it is shown is slow motion: its sound is stretched with
    it or gone, and no time in it is the playing's.
    """
    capture = _number(head["capture_fps"])
    facts = FilmFacts(
        format=f"{container_name(head['container'])}/{head['codec']}",
        capture_fps=capture,
        **{
            key: head[key]
            for key in ("width_px", "height_px", "seconds", "fps", "rotation_deg", "bits", "wide_range")
        },
    )
    if capture is not None and facts.fps > 0 and capture > SLOWED * facts.fps:
        raise refusals.slow_motion(path, capture, facts.fps)
    if facts.seconds > LONGEST_FILM_S:
        raise refusals.film_too_long(path, facts.seconds, LONGEST_FILM_S)
    if min(facts.width_px, facts.height_px) < SHORTEST_SIDE_PX:
        raise refusals.refusal(path, "small_picture")
    return facts


def _number(text: str | None) -> float | None:
    try:
        return None if text is None else float(text)
    except ValueError:
        return None


def _as_asked(colours: Colours) -> Asked:
    weights = [_packed(each.tobytes()) for each in colours.weights]
    return {"weights": weights, "u": _packed(colours.u.tobytes()), "v": _packed(colours.v.tobytes())}


def _packed(whole: bytes) -> str:
    return base64.b64encode(zlib.compress(whole)).decode("ascii")


def _blobs(rows: Floats) -> Blobs:
    """Return the patches' table, in order of frames."""
    columns = rows[np.argsort(rows[:, 0], kind="stable")].T
    return Blobs(columns[0].astype(np.int64), columns[1].astype(np.int64), *columns[2:])
