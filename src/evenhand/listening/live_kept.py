"""Keep the samples of a take that is still going on.

Conventions: samples float32, shape (n,), full scale 1.0, mono; kept in pieces, so that a long take is
never copied to grow.
"""

from __future__ import annotations

import numpy as np

from evenhand.listening.cutting import Floats

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
        self._pieces: list[Floats] = []
        self._length, self._keeps = 0, keeps
        self._forgotten = 0  # pieces

    def __len__(self) -> int:
        return self._length

    def __getitem__(self, key: slice, /) -> Floats:
        start, stop, _ = key.indices(self._length)
        out = np.empty(max(0, stop - start), dtype=np.float32)
        at = start
        while at < stop:
            piece, inside = self._pieces[at // PIECE], at % PIECE
            n = min(PIECE - inside, stop - at)
            out[at - start : at - start + n] = piece[inside : inside + n]
            at += n
        return out

    def add(self, block: Floats) -> None:
        """Take in the next samples."""
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

    def whole(self) -> Floats:
        """Return all samples as one array."""
        return self[:]
