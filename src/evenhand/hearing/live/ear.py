"""Hear a take while it is played: blocks of samples in, a quiet mark for each blow out.

What is said of a blow within a few hundredths of a second is preliminary. When the take has ended,
``LiveEar.finish`` hears all of it once more by ``listen``, and that answer stands.

Conventions: ``samples`` float32, shape (n,), mono, full scale 1.0, kept in pieces, so that a long take is
never copied to grow; times in seconds from the stream's first sample; levels in dB re full scale; asynchrony
in ms, negative = early.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from evenhand.arrays import Singles
from evenhand.errors import WrongUse
from evenhand.hearing.alignment.score import Score
from evenhand.hearing.listen import ClickChoice, listen
from evenhand.hearing.live.clicks import LiveClicks
from evenhand.hearing.live.onsets import DOUBTFUL_S, LiveAttack, LiveOnsets
from evenhand.hearing.live.places import LivePlaces, Place
from evenhand.music.exercise import Exercise, Hand, Tempo
from evenhand.take import Heard, Progress

PIECE = 1 << 18  # samples; 1 MB
_SILENCE = np.broadcast_to(np.float32(0.0), PIECE)  # takes no memory


class KeptSamples:
    """Samples that grow, and are sliced like an array.

    Parameters
    ----------
    keeps
        How many of the newest samples are kept at least; what is older is given back, a piece at a time, and
        reads as silence. None keeps all.
    """

    def __init__(self, keeps: int | None = None) -> None:
        self._pieces: list[Singles] = []
        self._length, self._keeps = 0, keeps
        self._forgotten = 0  # pieces

    def __len__(self) -> int:
        return self._length

    def __getitem__(self, key: slice, /) -> Singles:
        start, stop, _ = key.indices(self._length)
        out = np.empty(max(0, stop - start), dtype=np.float32)
        at = start
        while at < stop:
            piece, inside = self._pieces[at // PIECE], at % PIECE
            n = min(PIECE - inside, stop - at)
            out[at - start : at - start + n] = piece[inside : inside + n]
            at += n
        return out

    def add(self, block: Singles) -> None:
        """Take in the next samples, shape (n,)."""
        done = 0
        while done < len(block):
            inside = self._length % PIECE
            if inside == 0:
                self._pieces.append(np.empty(PIECE, dtype=np.float32))
            n = min(PIECE - inside, len(block) - done)
            self._pieces[-1][inside : inside + n] = block[done : done + n]
            self._length += n
            done += n
        if self._keeps is not None:
            self._forget(self._length - self._keeps)

    @property
    def is_whole(self) -> bool:
        """Tell whether nothing was given back."""
        return self._forgotten == 0

    def _forget(self, before: int) -> None:
        """Give back the pieces that end before a sample."""
        while (self._forgotten + 1) * PIECE <= before:
            self._pieces[self._forgotten] = _SILENCE
            self._forgotten += 1


LONGEST_S = 1800.0
WHOLE_S = 180.0  # a longer take is not copied to be heard, but read piece by piece
LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8000, 192_000
HOP_S, LONGEST_HOP_S = 0.008, 0.024  # shorter blocks are put together, longer ones are cut
_IDLE_HOP_S = 0.016  # while nothing stirs, so much is put together
_STIRS, _STIRRED_S = 1.6, 0.036  # times the energy before; and how long it is listened to closely then


@dataclass(frozen=True, slots=True)
class LiveHit:
    """One blow, just heard. ``hand`` to ``grace`` are a first guess, None where there is none.

    ``asynchrony_ms`` is against the grid whose first note is due at ``first_note_s``; None where
    that is not known, for blows that no note accounts for, and for grace notes.
    """

    time_s: float
    level_db: float
    hand: Hand | None = None
    repetition: int | None = None
    position: int | None = None
    grace: bool = False
    asynchrony_ms: float | None = None


class LiveEar:
    """Hears one take, block by block.

    Parameters
    ----------
    rate_hz
        Samples a second.
    exercise, tempo
        What was asked of the player; without both, blows are reported without hands.
    first_note_s
        When the exercise's first note is due, where the click's grid is known.
    click_s
        When clicks are due that sound in the room; they are taken out of what is heard.
    longest_s
        How much sound is taken in.
    keeps_s
        How much of the newest sound is kept, 4 bytes a sample: half an hour at 48 kHz is 346 MB, a minute
        12 MB. None keeps all; ``finish`` needs all.
    """

    def __init__(
        self,
        rate_hz: int,
        *,
        exercise: Exercise | None = None,
        tempo: Tempo | None = None,
        first_note_s: float | None = None,
        click_s: Sequence[float] = (),
        longest_s: float = LONGEST_S,
        keeps_s: float | None = None,
    ) -> None:
        if not LOWEST_RATE_HZ <= rate_hz <= HIGHEST_RATE_HZ:
            raise WrongUse(f"rate_hz: got {rate_hz}; must be {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ}.")
        self._rate_hz, self._exercise, self._tempo = rate_hz, exercise, tempo
        self._counted = first_note_s is not None
        self._most = int(longest_s * rate_hz)
        self._kept = KeptSamples(None if keeps_s is None else int(keeps_s * rate_hz))
        self._clicks = LiveClicks(self._kept, rate_hz, click_s, until_s=first_note_s)
        self._onsets = LiveOnsets(rate_hz)
        self._attack = LiveAttack(rate_hz)
        self._places: LivePlaces | None = None  # without an exercise, nothing has a place
        if exercise is not None and tempo is not None and exercise.struck:
            self._places = LivePlaces(Score.of(exercise, tempo), first_note_s)
        self._step, self._listened = int(LONGEST_HOP_S * rate_hz), 0
        self._energy, self._stirred_until = 0.0, 0

    @property
    def seconds(self) -> float:
        """How much was fed so far."""
        return len(self._kept) / self._rate_hz

    def feed(self, samples: Singles) -> list[LiveHit]:
        """Take in the next samples, shape (n,), and tell the blows that became certain by them.

        Parameters
        ----------
        samples : shape (n,), full scale 1.0

        Raises
        ------
        WrongUse
            Where the block is not one row of finite samples, or the take is longer than is kept.
        """
        block = np.asarray(samples, dtype=np.float32)
        if block.ndim != 1 or not np.isfinite(block).all():
            raise WrongUse("a block of sound: must be one row of finite samples.")
        if len(self._kept) + len(block) > self._most:
            raise WrongUse(f"a live take: no more than {self._most / self._rate_hz:g} s are heard.")
        hits: list[LiveHit] = []
        for part in np.array_split(block, max(1, -(-len(block) // self._step))):
            self._kept.add(part)
            if len(self._kept) - self._listened >= self._hop_s(part) * self._rate_hz:
                self._listened = len(self._kept)
                hits += self._hear()
        return hits

    def _hop_s(self, part: Singles) -> float:
        """Return how much new sound is listened to together: more, while it does not grow any louder."""
        change = np.diff(part)
        energy = float(change @ change) / max(1, len(part))
        if energy > _STIRS * self._energy:
            self._stirred_until = len(self._kept) + int(_STIRRED_S * self._rate_hz)
        self._energy = energy
        return HOP_S if len(self._kept) < self._stirred_until else _IDLE_HOP_S

    def finish(self, *, click: ClickChoice = "auto", progress: Progress | None = None) -> Heard:
        """Hear the whole take that was fed: the answer is that of ``listen`` for the same samples.

        Raises
        ------
        WrongUse
            Where not all of it was kept.
        """
        if not self._kept.is_whole:
            raise WrongUse("a live take: only its newest sound is kept; it cannot be heard as a whole.")
        if len(self._kept) == 0:
            return Heard(hits=())
        short = self.seconds <= WHOLE_S
        return listen(
            self._kept[:] if short else self._kept,
            self._rate_hz,
            exercise=self._exercise,
            tempo=self._tempo,
            click=click,
            counted=self._counted,
            progress=progress,
        )

    def _hear(self) -> list[LiveHit]:
        """Tell the blows that are certain by now."""
        cleaned = self._clicks.cleaned()
        off_due_s = None if self._places is None else self._places.off_due_s
        found = self._onsets.fresh(cleaned, self._clicks.open_from_s, off_due_s)
        hits = []
        columns = found.times_s, found.level_db, found.strength, self._clicks.is_no_click(found)
        for rough_s, rough_db, strength, is_blow in zip(*(c.tolist() for c in columns), strict=True):
            if not is_blow:
                self._onsets.drop(rough_s)
                continue
            blow = self._attack.time(cleaned, rough_s)
            if self._onsets.is_known(blow.time_s):
                continue
            late = self.seconds - rough_s > DOUBTFUL_S
            if blow.seen or (late and not self._attack.is_faint(blow, strength)):
                self._attack.remember(blow)
                self._onsets.remember(rough_s, rough_db, blow.time_s)
                hits.append(self._laid(blow.time_s, blow.level_db))
        return hits

    def _laid(self, time_s: float, level_db: float) -> LiveHit:
        """Lay a blow on the note it is likely to be."""
        place = None if self._places is None else self._places.place(time_s, level_db)
        if place is None:
            return LiveHit(time_s, level_db)
        off_ms = self._asynchrony_ms(time_s, place)
        return LiveHit(time_s, level_db, place.hand, place.repetition, place.position, place.grace, off_ms)

    def _asynchrony_ms(self, time_s: float, place: Place) -> float | None:
        """Return how far a blow stands from where the click's grid has its note."""
        if place.due_s is None or place.grace:
            return None
        return (time_s - place.due_s - self._clicks.later_s) * 1e3
