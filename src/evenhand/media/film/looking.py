"""Look at a film's frames; runs inside the decoding child. Standard library, av and numpy only.

What numpy loads late (``median`` does) cannot be used: once a film is here, nothing can be loaded.

Conventions: work is done on the grid of the chroma planes, as they are stored; places go out in px of the
picture as it is shown. A frame's time is its presentation time, never its number, less where the sound
begins.

Messages: ``h`` what the film is (JSON), ``f`` a sampled frame (a head of time, rows and columns, then the
planes Y, U, V), ``t`` times of frames (float64), ``b`` patches (float64, five a row: frame, colour, x, y,
mass), ``p`` a picture (a head of time, rows and columns, then RGB), ``e`` the end (JSON).
"""

from __future__ import annotations

import base64
import json
import statistics
import struct
import zlib
from collections.abc import Callable, Iterator
from contextlib import suppress
from typing import Any

import av
import numpy as np

Send = Callable[[bytes, bytes], None]
Refuses = Callable[[str, str], Exception]

BATCH = 64  # frames to a message
WIDEST_GRID = 960  # columns of the grid; a larger picture is looked at on every second place
MOST_PIXELS = 4_000  # of a colour in a frame: beyond, the colour is the scene's
MOST_BLOBS, LEAST_MASS = 8, 1.5  # of a colour in a frame; in places of the grid
START_FRAMES, START_S, LATER_FRAMES = 36, 5.0, 24  # sampled from the start, and from key frames later
GOLDEN = 0.618  # samples are unevenly far apart, so that none are in step with the playing
MOST_TIMES = 600  # packets whose times say how many frames a second there are
PLAIN = {"yuv420p", "yuvj420p"}
WIDE_TRANSFERS = {16, 18}  # PQ and HLG (ITU-T H.273)
CAPTURE_TAGS = ("com.android.capture.fps", "com.apple.quicktime.capture.fps")


class Film:
    """An opened film and how its frames lie."""

    def __init__(self, container: Any, refuse: Refuses) -> None:  # noqa: ANN401 - av's own
        if not container.streams.video:
            raise refuse("no_picture", "")
        self.container = container
        self.stream = container.streams.video[0]
        if getattr(self.stream, "codec_context", None) is None:
            raise refuse("picture_codec", "")
        self.stream.thread_type = "NONE"
        sound = container.streams.audio[0] if container.streams.audio else None
        starts = None if sound is None or sound.start_time is None else sound.start_time * sound.time_base
        self.sound_starts_s = float(starts or 0.0)
        self.turns = 0  # quarter turns to the left, to be shown
        self.step = 1
        self.shown_s: list[float] = []  # when the first packets are shown, in the order they are stored
        self.broke_off = False
        self.broken = 0

    def frames(self, skip: str = "DEFAULT") -> Iterator[tuple[float, Any]]:
        """Give frames with their times, to the end or to where the film is damaged."""
        self.stream.codec_context.skip_frame = skip
        packets = self.container.demux(self.stream)
        while True:
            try:
                packet = next(packets)
            except StopIteration:
                return
            except (av.error.FFmpegError, ValueError, IndexError):
                self.broke_off = True
                return
            if packet.pts is not None and len(self.shown_s) < MOST_TIMES:
                self.shown_s.append(float(packet.pts * packet.time_base))
            try:
                frames = packet.decode()
            except av.error.FFmpegError as error:
                self.broken += not isinstance(error, av.error.EOFError)
                continue
            for frame in frames:
                if frame.pts is not None:
                    yield float(frame.pts * frame.time_base) - self.sound_starts_s, frame

    def turn_as(self, frame: Any) -> None:  # noqa: ANN401
        """Take from a frame how the film is to be turned."""
        self.turns = round(float(getattr(frame, "rotation", 0) or 0) / 90) % 4

    def seek(self, time_s: float) -> None:
        """Go to the key frame at or before a time."""
        at = int((time_s + self.sound_starts_s) / self.stream.time_base)
        self.container.seek(at, stream=self.stream)

    def planes(self, frame: Any) -> tuple[np.ndarray, np.ndarray, np.ndarray]:  # noqa: ANN401
        """Return luma and chroma on the grid, as stored, each of shape (rows, columns)."""
        plain = frame if frame.format.name in PLAIN else frame.reformat(format="yuv420p")
        u, v = (_plane(each) for each in plain.planes[1:3])
        y = _plane(plain.planes[0])[::2, ::2][: u.shape[0], : u.shape[1]]
        self.step = 1 + (u.shape[1] > WIDEST_GRID)
        return y[:: self.step, :: self.step], u[:: self.step, :: self.step], v[:: self.step, :: self.step]

    def head(self, frame: Any, fps: float) -> dict[str, Any]:  # noqa: ANN401
        """Say what the film is, by its container and its first frame."""
        tags = {**self.container.metadata, **self.stream.metadata}
        capture = next((tags[tag] for tag in CAPTURE_TAGS if tag in tags), None)
        duration = self.stream.duration
        seconds = (
            float(duration * self.stream.time_base) if duration else (self.container.duration or 0) / 1e6
        )
        turned = self.turns % 2
        return {
            "container": self.container.format.name,
            "codec": self.stream.codec_context.codec.canonical_name,
            "width_px": frame.height if turned else frame.width,
            "height_px": frame.width if turned else frame.height,
            "seconds": seconds,
            "fps": fps,
            "rotation_deg": 90 * (self.turns % 4),
            "bits": frame.format.components[0].bits,
            "wide_range": int(getattr(frame, "color_trc", 0) or 0) in WIDE_TRANSFERS,
            "capture_fps": capture,
            "grid_px": 2 * self.step,
        }


def _plane(plane: Any) -> np.ndarray:  # noqa: ANN401
    """Return a plane as an array without its padding."""
    whole = np.frombuffer(plane, np.uint8)
    return whole[: plane.height * plane.line_size].reshape(plane.height, plane.line_size)[:, : plane.width]


def sample(film: Film, send: Send, refuse: Refuses) -> dict[str, Any]:
    """Send what the film is and some frames: many from its start, key frames from the rest."""
    times: list[float] = []
    kept = 0
    for time_s, frame in film.frames(skip="NONREF"):
        if not times:
            film.turn_as(frame)
            first = frame
        times.append(time_s)
        if time_s - times[0] >= (kept + kept * GOLDEN % 1) * START_S / START_FRAMES:
            _send_frame(film, time_s, frame, send)
            kept += 1
        if kept == START_FRAMES:
            break
    if not times:
        raise refuse("no_frames", film.stream.codec_context.name)
    seen_s = times[-1]
    times = sorted(film.shown_s)
    steps = sorted(step for step in np.diff(times).tolist() if step > 0)
    head = film.head(first, 1 / statistics.median(steps) if steps else 0.0)
    if kept == START_FRAMES:
        _sample_later(film, seen_s, head["seconds"], send)
    send(b"h", _json(head))
    return _end(film)


def _sample_later(film: Film, from_s: float, seconds: float, send: Send) -> None:
    """Send key frames from the rest of the film; one that cannot be searched has none."""
    last_s = from_s
    for i in range(1, LATER_FRAMES + 1):
        with suppress(av.error.FFmpegError, ValueError):
            film.seek(from_s + (seconds - from_s) * i / (LATER_FRAMES + 1))
            time_s, frame = next(film.frames(skip="NONKEY"), (last_s, None))
            if frame is not None and time_s > last_s:
                _send_frame(film, time_s, frame, send)
                last_s = time_s


def _send_frame(film: Film, time_s: float, frame: Any, send: Send) -> None:  # noqa: ANN401
    planes = [np.rot90(each, film.turns) for each in film.planes(frame)]
    head = struct.pack("<dII", time_s, *planes[0].shape)
    send(b"f", head + b"".join(each.tobytes() for each in planes))


def look(film: Film, asked: dict[str, Any], send: Send, refuse: Refuses) -> dict[str, Any]:
    """Send the patches of the colours asked for in every frame."""
    search: Search | None = None
    duration = film.container.duration or 0
    send(b"h", _json({"seconds": duration / 1e6}))
    times: list[float] = []
    rows: list[np.ndarray] = []
    for number, (time_s, frame) in enumerate(film.frames()):
        if search is None:
            film.turn_as(frame)
        _, u, v = film.planes(frame)
        if search is None:
            search = Search(asked, u.shape, film)
        times.append(time_s)
        if u.shape == search.shape:
            rows += search.blobs(number, u, v)
        if len(times) == BATCH:
            _send_batch(times, rows, send)
            times, rows = [], []
    if search is None:
        raise refuse("no_frames", film.stream.codec_context.name)
    _send_batch(times, rows, send)
    return _end(film)


def show(film: Film, asked: dict[str, Any], send: Send, refuse: Refuses) -> dict[str, Any]:
    """Send pictures, cut to a box and made so wide: of the frames at rising times, or of all."""
    wanted = asked["times_s"]
    shown = number = 0
    send(b"h", _json({"seconds": (film.container.duration or 0) / 1e6}))
    for number, (time_s, frame) in enumerate(film.frames(), start=1):
        if number == 1:
            film.turn_as(frame)
        if wanted is None or time_s > wanted[shown] - 1e-4:
            picture = _cut(
                np.rot90(frame.to_ndarray(format="rgb24"), film.turns), asked["box_px"], asked["width_px"]
            )
            send(b"p", struct.pack("<dII", time_s, *picture.shape[:2]) + picture.tobytes())
            shown += 1
        if wanted is not None and shown == len(wanted):
            break
    if not number:
        raise refuse("no_frames", film.stream.codec_context.name)
    return _end(film)


def _cut(rgb: np.ndarray, box_px: list[int] | None, width_px: int) -> np.ndarray:
    """Cut a picture, shape (height, width, 3), and make it so wide, its height even."""
    left, top, right, bottom = box_px or (0, 0, rgb.shape[1], rgb.shape[0])
    cut = np.ascontiguousarray(rgb[top:bottom, left:right])
    height_px = max(2 * round(width_px * cut.shape[0] / cut.shape[1] / 2), 2)
    small = av.VideoFrame.from_ndarray(cut, format="rgb24").reformat(width=width_px, height=height_px)
    return np.asarray(small.to_ndarray(format="rgb24"), np.uint8)


def _send_batch(times: list[float], rows: list[np.ndarray], send: Send) -> None:
    send(b"t", np.array(times).tobytes())
    send(b"b", np.concatenate(rows).tobytes() if rows else b"")


def _end(film: Film) -> dict[str, Any]:
    return {"broke_off": film.broke_off, "broken": film.broken}


def _json(value: dict[str, Any]) -> bytes:
    return json.dumps(value).encode()


def _unpacked(text: str) -> bytes:
    return zlib.decompress(base64.b64decode(text))


class Search:
    """The colours looked for in what differs from the background: by U and V alone, then the few by both."""

    def __init__(self, asked: dict[str, Any], shape: tuple[int, ...], film: Film) -> None:
        self.shape, self.turns, self.grid_px = shape, film.turns, 2.0 * film.step
        shown = shape[::-1] if film.turns % 2 else shape
        back = [np.frombuffer(_unpacked(asked[name]), np.uint8).reshape(shown) for name in "uv"]
        self.back = [np.rot90(plane, -film.turns) - np.uint8(128) for plane in back]
        weights = [np.frombuffer(_unpacked(each), np.uint8).reshape(256, 256) for each in asked["weights"]]
        self.weights = [each.astype(np.float64) / 255 for each in weights]
        near = [[(each > 0).any(axis=axis) << i for i, each in enumerate(weights)] for axis in (1, 0)]
        self.tables = [np.bitwise_or.reduce(each).astype(np.uint8).tobytes() for each in near]

    def blobs(self, number: int, u: np.ndarray, v: np.ndarray) -> Iterator[np.ndarray]:
        """Give the patches of each colour in a frame, shape (n_blobs, 5)."""
        away = [plane - behind for plane, behind in zip((u, v), self.back, strict=True)]
        by_u, by_v = (
            np.frombuffer(each.tobytes().translate(table), np.uint8)
            for each, table in zip(away, self.tables, strict=True)
        )
        places = np.flatnonzero((by_u & by_v).view(bool))
        du, dv = (each.ravel()[places] for each in away)
        for i, weights in enumerate(self.weights):
            mass = weights[du, dv]
            own = np.flatnonzero(mass)
            if 0 < own.size <= MOST_PIXELS:
                rows, columns = np.divmod(places[own], self.shape[1])
                yield self._patches(number, i, rows, columns, mass[own])

    def _patches(
        self, number: int, colour: int, rows: np.ndarray, columns: np.ndarray, mass: np.ndarray
    ) -> np.ndarray:
        """Sum up connected patches, in px of the picture as it is shown."""
        label = connected(rows, columns)
        total = np.bincount(label, mass)
        x, y = self._shown(*(np.bincount(label, mass * at) / total for at in (columns, rows)))
        g = self.grid_px
        which = [np.full(x.size, float(each)) for each in (number, colour)]
        out = np.stack([*which, g * (x + 0.5), g * (y + 0.5), g * g * total], axis=1)[total >= LEAST_MASS]
        return out[np.argsort(-out[:, 4])[:MOST_BLOBS]]

    def _shown(self, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Turn places on the stored grid into those of the shown picture."""
        height, width = self.shape
        turned = ((x, y), (y, width - 1 - x), (width - 1 - x, height - 1 - y), (height - 1 - y, x))
        return turned[self.turns]


def connected(rows: np.ndarray, columns: np.ndarray) -> np.ndarray:
    """Label places that touch, also over one empty place between; rows rising, in a row columns rising.

    Runs along rows are joined where runs of the two rows above reach them.

    Parameters
    ----------
    rows, columns : shape (n,)

    Returns
    -------
    shape (n,), numbered from 0
    """
    breaks = np.flatnonzero((np.diff(rows) != 0) | (np.diff(columns) > 2)) + 1
    first = np.concatenate([[0], breaks])
    last = np.concatenate([breaks - 1, [rows.size - 1]])
    runs = list(zip(rows[first].tolist(), columns[first].tolist(), columns[last].tolist(), strict=True))
    parent = list(range(len(runs)))

    def root(i: int) -> int:
        while parent[i] != i:
            parent[i] = i = parent[parent[i]]
        return i

    begin = 0
    for i, (row, left, right) in enumerate(runs):
        while runs[begin][0] < row - 2:
            begin += 1
        for j in range(begin, i):
            above = runs[j]
            if above[0] < row and above[1] <= right + 1 and above[2] >= left - 1:
                parent[root(j)] = root(i)
    roots = np.array([root(i) for i in range(len(runs))])
    label = np.unique(roots, return_inverse=True)[1]
    return np.repeat(label, last - first + 1)
