"""A film written to a file: frame by frame as a phone takes them, with the sound of the strokes.

Conventions: the world runs on the sound's timeline; a frame whose middle of exposure is ``p`` in the file
shows the world at ``p + shift``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from benchmarks.filming.camera import Camera
from benchmarks.filming.case import FilmCase, FilmTruth, Floats
from benchmarks.filming.colours import Light, Shown, dimmed, shown_of
from benchmarks.filming.drawing import disc, strip
from benchmarks.filming.playing import Played, play
from benchmarks.filming.scene import AIM_CM, Holder, backdrop, holders, lit, pad_on, pad_outline, passer
from benchmarks.filming.turned import as_stored, flag, stored_size
from evenhand.synthesis.drops import record_blows
from evenhand.synthesis.instruments import Scene

if TYPE_CHECKING:
    import av

RATE_HZ = 48_000
TICKS = 90_000
MOST_MOMENTS, PX_A_MOMENT = 10, 4.0
AUDIO_BLOCK = 1024
_ROUND = 8  # pixels about all that moves
Box = tuple[slice, slice]


def film(case: FilmCase, path: Path) -> FilmTruth:
    """Film a case into a file (mp4 or mov by its name), and return what truly happens in it."""
    played = play(case)
    camera = Camera.of(case.view, case.size)
    frames_s = _frame_times(case, played.end_s)
    samples = _sound(case, played) if case.sound else None
    _write(path, case, _Shooting.of(case, played, camera).frames(frames_s), frames_s, samples)
    upper, _ = pad_outline(case)
    seen = camera.picture(upper)[0]
    across = np.linalg.norm(seen[:, None] - seen[None], axis=2).max()
    tips = {hand: (motion.times_s, motion.tip_cm) for hand, motion in played.motions.items()}
    scale = {"R": camera.upright(0, -AIM_CM), "L": camera.upright(0, AIM_CM)}
    return FilmTruth(played.strokes, case.shift_ms, scale, tips, float(across), frames_s * case.slowed)  # type: ignore[arg-type]


def _frame_times(case: FilmCase, end_s: float) -> Floats:
    """Return when each frame is taken: even, or unsteady with some lost."""
    rng = np.random.default_rng([case.seed, 4])
    times = np.arange(int(end_s * case.fps)) / case.fps
    times[1:] += case.jitter / case.fps * rng.uniform(-0.5, 0.5, len(times) - 1)
    kept = rng.uniform(size=len(times)) >= case.drop_share
    kept[0] = True
    return np.round(times[kept] * TICKS) / TICKS


def _sound(case: FilmCase, played: Played) -> NDArray[np.float32]:
    """Record the strokes where they truly fall, shape (n,)."""
    times, levels, hands = zip(*((s.time_s, s.level_db, s.hand) for s in played.strokes), strict=True)
    scene = Scene(rate_hz=RATE_HZ, noise_snr_db=case.sound_snr_db, tail_s=played.end_s - times[-1])
    samples, _, _ = record_blows(times, levels, scene, np.random.default_rng([case.seed, 5]), hands)
    return samples


@dataclass(frozen=True)
class _Shooting:
    """All that a frame is made of."""

    case: FilmCase
    camera: Camera
    holders: list[Holder]
    still: Light
    still_shown: Shown

    @classmethod
    def of(cls, case: FilmCase, played: Played, camera: Camera) -> _Shooting:
        """Set the scene."""
        still = backdrop(case, camera)
        return cls(case, camera, holders(case, played.motions), still, shown_of(still))

    def frames(self, times_s: Floats) -> Iterator[Shown]:
        """Give each frame, shape (height, width, 3)."""
        shake = _Shake(self.case)
        for time_s in times_s.tolist():
            yield shake.moved(self._frame(time_s + self.case.shift_ms / 1000), time_s)

    def _frame(self, time_s: float) -> Shown:
        """Expose one frame: the mean of the moments while the shutter is open."""
        ends = [self._seen(time_s + x * self.case.shutter_s) for x in (-0.5, 0.5)]
        apart = max(float(np.abs(a[0] - b[0]).max()) for a, b in zip(*ends, strict=True))
        moments = min(max(math.ceil(apart / PX_A_MOMENT), 1), MOST_MOMENTS)
        offsets = (np.arange(moments) + 0.5) / moments - 0.5
        seen = [self._seen(time_s + x * self.case.shutter_s) for x in offsets.tolist()]
        middle = self._seen(time_s)
        quick = self._box(seen, quick=True)
        box = _around(self._box([middle]), quick)
        still, out = self._behind(time_s)
        light = np.pad(still[box], ((1, 1), (1, 1), (0, 0)))
        self._draw(light, middle, box, 0, slow=True)
        inner = light[_within(quick, box)]
        total = np.zeros_like(inner)
        for moment in seen:
            total += self._drawn(inner.copy(), moment, quick)
        inner[...] = total / np.float32(len(seen))
        self._draw(light, middle, box, 1, slow=True)
        out[box] = shown_of(light[1:-1, 1:-1])
        drift = self.case.exposure_drift
        return dimmed(out, 1 + drift * math.sin(2 * math.pi * time_s / 5.3)) if drift else out

    def _behind(self, time_s: float) -> tuple[Light, Shown]:
        """Return what is behind the player, as light and as shown."""
        if not self.case.passer:
            return self.still, self.still_shown.copy()
        still = self.still.copy()
        passer(still, self.case, self.camera, time_s)
        pad_on(still, self.case, self.camera)
        return still, shown_of(still)

    def _seen(self, time_s: float) -> list[tuple[Floats, Floats]]:
        """Return where both hands' points are seen at a moment, and the scale there."""
        out = []
        for each in self.holders:
            times = np.full(len(each.along), time_s)
            seen = self.camera.picture(each.places(times))
            if self.case.readout_s:
                row = np.clip(seen[0][:, 1] / self.case.size[1], 0, 1) - 0.5
                seen = self.camera.picture(each.places(times + self.case.readout_s * row))
            out.append(seen)
        return out

    def _box(self, seen: Sequence[Sequence[tuple[Floats, Floats]]], *, quick: bool = False) -> Box:
        """Return the rows and columns of the picture in which something moves, or only what is quick."""
        of = slice(None, -1) if quick else slice(None)  # the last point is the elbow
        points = np.concatenate([at[of] for moment in seen for at, _ in moment])
        round_px = 5.5 * max(float(scale.max()) for moment in seen for _, scale in moment) + _ROUND
        low = np.clip(np.floor(points.min(0) - round_px), 0, self.case.size).astype(int).tolist()
        high = np.clip(np.ceil(points.max(0) + round_px), low, self.case.size).astype(int).tolist()
        return slice(low[1], high[1]), slice(low[0], high[0])

    def _drawn(self, picture: Light, moment: Sequence[tuple[Floats, Floats]], box: Box) -> Light:
        """Lay what is quick onto a picture of the box, the farther hand first."""
        for number in range(len(self.holders)):
            self._draw(picture, moment, box, number, slow=False)
        return picture

    def _draw(
        self, picture: Light, moment: Sequence[tuple[Floats, Floats]], box: Box, number: int, *, slow: bool
    ) -> None:
        """Lay one hand's pieces onto a picture of the box with a pixel around it."""
        each, (at, scale) = self.holders[number], moment[number]
        places = [(x, y) for x, y in (at - (box[1].start - 1, box[0].start - 1)).tolist()]
        for piece in each.pieces:
            (a, b), (ra, rb), colour = piece.ends, piece.radii_cm, lit(self.case) * piece.colour
            if piece.slow is not slow:
                continue
            if each.along[a] == each.along[b]:
                disc(picture, places[a], ra * float(scale[a]), colour)
            else:
                strip(picture, (places[a], places[b]), (ra * float(scale[a]), rb * float(scale[b])), colour)


def _around(one: Box, other: Box) -> Box:
    rows, columns = (
        slice(min(a.start, b.start), max(a.stop, b.stop)) for a, b in zip(one, other, strict=True)
    )
    return rows, columns


def _within(inner: Box, outer: Box) -> Box:
    """Return where a box lies in another that has a pixel around it, with a pixel around itself."""
    rows, columns = (
        slice(a.start - b.start, a.stop - b.start + 2) for a, b in zip(inner, outer, strict=True)
    )
    return rows, columns


class _Shake:
    """A hand-held phone: the picture wanders, slowly and by parts of a pixel."""

    def __init__(self, case: FilmCase) -> None:
        rng = np.random.default_rng([case.seed, 6])
        self._size_px = case.shake_px
        self._hz = rng.uniform(0.3, 7.0, (2, 6))
        self._phase = rng.uniform(0, 2 * np.pi, (2, 6))

    def moved(self, frame: Shown, time_s: float) -> Shown:
        """Move a frame; what comes in at the edges repeats them."""
        if not self._size_px:
            return frame
        waves = np.sin(2 * np.pi * self._hz * time_s + self._phase) / np.sqrt(self._hz)
        dx, dy = (self._size_px * waves.sum(1) / 1.5).tolist()
        for axis, by in ((1, dx), (0, dy)):
            whole = math.floor(by)
            at = np.clip(np.arange(frame.shape[axis]) - whole, 0, frame.shape[axis] - 1)
            near = frame.take(at, axis).astype(np.uint16)
            next_ = frame.take(np.maximum(at - 1, 0), axis)
            part = round(256 * (by - whole))
            frame = ((near * (256 - part) + next_.astype(np.uint16) * part) >> 8).astype(np.uint8)
        return frame


class _Noise:
    """A sensor's noise, cut from one long draw at random places."""

    def __init__(self, case: FilmCase) -> None:
        self._rng = np.random.default_rng([case.seed, 7])
        width, height = case.size
        self._pool = np.round(case.noise * self._rng.standard_normal(2 * width * height + 8191)).astype(
            np.int16
        )

    def onto(self, planes: NDArray[np.uint8]) -> NDArray[np.uint8]:
        """Add noise to a frame's planes, any shape."""
        begin = int(self._rng.integers(len(self._pool) - planes.size))
        noise = self._pool[begin : begin + planes.size].reshape(planes.shape)
        return np.asarray(np.clip(planes + noise, 0, 255), np.uint8)


def _write(
    path: Path, case: FilmCase, frames: Iterator[Shown], times_s: Floats, samples: NDArray[np.float32] | None
) -> None:
    """Encode picture and sound side by side."""
    import av

    options = {"movflags": "faststart"} if case.kept < 1 else {}
    with av.open(str(path), "w", options=options) as container:
        picture = container.add_stream(case.codec, rate=Fraction(case.fps).limit_denominator(1001))
        picture.width, picture.height = stored_size(case.size, case.rotation)
        picture.pix_fmt = "yuv420p10le" if case.deep else "yuv420p"
        picture.options = {"crf": str(case.crf), "preset": "veryfast", "threads": "1"}
        picture.codec_context.time_base = Fraction(1, TICKS)
        sound = None if samples is None else container.add_stream("aac", rate=RATE_HZ, layout="mono")
        heard, noise = 0, _Noise(case)
        for frame, time_s in zip(frames, times_s.tolist(), strict=True):
            container.mux(picture.encode(_as_frame(case, frame, noise, round(time_s * case.slowed * TICKS))))
            while (
                sound is not None
                and samples is not None
                and heard < min(len(samples), time_s * case.slowed * RATE_HZ)
            ):
                container.mux(sound.encode(_as_sound(samples, heard)))
                heard += AUDIO_BLOCK
        container.mux(picture.encode(None))
        while sound is not None and samples is not None and heard < len(samples):
            container.mux(sound.encode(_as_sound(samples, heard)))
            heard += AUDIO_BLOCK
        if sound is not None:
            container.mux(sound.encode(None))
    if case.rotation:
        flag(path, stored_size(case.size, case.rotation), case.rotation)
    if case.kept < 1:
        whole = path.read_bytes()
        path.write_bytes(whole[: round(case.kept * len(whole))])


def _as_frame(case: FilmCase, shown: Shown, noise: _Noise, pts: int) -> av.VideoFrame:
    import av

    shown = as_stored(shown, case.rotation)
    planes = np.asarray(
        av.VideoFrame.from_ndarray(shown, format="rgb24").to_ndarray(format="yuv420p"), np.uint8
    )
    frame = av.VideoFrame.from_ndarray(noise.onto(planes) if case.noise else planes, format="yuv420p")
    if case.deep:
        frame = frame.reformat(format="yuv420p10le")
    frame.pts, frame.time_base = pts, Fraction(1, TICKS)
    return frame


def _as_sound(samples: NDArray[np.float32], begin: int) -> av.AudioFrame:
    import av

    block = np.ascontiguousarray(samples[None, begin : begin + AUDIO_BLOCK])
    frame = av.AudioFrame.from_ndarray(block, format="fltp", layout="mono")
    frame.sample_rate, frame.pts, frame.time_base = RATE_HZ, begin, Fraction(1, RATE_HZ)
    return frame
