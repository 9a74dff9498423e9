"""A take's sound as FLAC: one channel, the one that is heard, 16 bit, block by block."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from evenhand.application.ports import SoundTake

_BLOCK = 1 << 16


def write_sound(take: SoundTake, place: Path) -> bool:
    """Write a take's sound as FLAC, however long it is; False where FLAC cannot hold it.

    FLAC holds no rate that is over 65,535 Hz and no multiple of ten; what came in stays then.
    """
    import soundfile

    try:
        with soundfile.SoundFile(place, "w", take.rate_hz, 1, "PCM_16", format="FLAC") as file:
            for _start, block in take.blocks(_BLOCK):
                file.write(np.clip(block, -1.0, 1.0))
    except (soundfile.SoundFileError, OSError):
        place.unlink(missing_ok=True)
        return False
    return True
