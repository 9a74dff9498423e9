"""Silence that an encoder puts before the sound, where the container does not say to drop it.

Encoders start late by a fixed number of samples. Most containers say how many, and the decoder
drops them; where none says so, what is usual for the codec is dropped here, and it is said that
this was assumed: evenness does not depend on it, early and late do.

The figures were measured with FFmpeg's encoders (an impulse train, encoded and decoded). MP3's is
the LAME encoder's 576 and the decoder's 529; AAC in CAF comes from Apple's encoder, whose
documented delay is 2112.
"""

from __future__ import annotations

USUAL_SAMPLES = {"aac": 1024, "mp3": 1105, "mp2": 481, "ac3": 256, "eac3": 256}
IN_CAF_SAMPLES = {"aac": 2112, "opus": 312}
UNKNOWN = {"wmav1", "wmav2", "wmapro", "amr_nb", "amr_wb", "cook", "atrac3"}
_MP3_DECODER_SAMPLES = 529  # a header that states no encoder delay leaves only this to be dropped


def lead_in(container: str, codec: str, skipped: int | None, rate_hz: int) -> tuple[int, str | None]:
    """Tell how many samples to drop at the start, and what to say about it.

    Parameters
    ----------
    container, codec
        Names as FFmpeg gives them.
    skipped
        Samples that the container itself said to drop, and the decoder dropped; None if it said nothing.
    rate_hz
        Samples a second.
    """
    usual = (IN_CAF_SAMPLES if container == "caf" else {}).get(codec) or USUAL_SAMPLES.get(codec, 0)
    if codec == "mp3" and skipped is not None and skipped <= _MP3_DECODER_SAMPLES:
        return usual - skipped, _assumed(usual, rate_hz)
    if skipped is not None:
        return 0, None
    if codec in UNKNOWN:
        return 0, (
            f"{codec} may shift the whole recording by some hundredths of a second: "
            "evenness holds, early and late do not unless the click is heard"
        )
    return (usual, _assumed(usual, rate_hz)) if usual else (0, None)


def _assumed(samples: int, rate_hz: int) -> str:
    return (
        f"the file does not say how late its encoder starts: {samples} samples "
        f"({1000 * samples / rate_hz:.1f} ms) are assumed and dropped; "
        "evenness holds either way, early and late only if the click is heard"
    )
