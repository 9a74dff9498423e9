"""What is dropped before the sound; the figures are known delays of encoders (see the module)."""

from __future__ import annotations

import pytest

from evenhand.media.decoding import lead_in


@pytest.mark.parametrize(
    ("container", "codec", "skipped", "dropped", "says"),
    [
        pytest.param("mov,mp4", "aac", 1024, 0, False, id="the container knows"),
        pytest.param("mov,mp4", "aac", 2112, 0, False, id="another encoder, and the container knows"),
        pytest.param("aac", "aac", None, 1024, True, id="raw AAC knows nothing"),
        pytest.param("mp3", "mp3", 1105, 0, False, id="MP3 with its encoder's delay"),
        pytest.param("mp3", "mp3", None, 1105, True, id="MP3 without a header: 576 and 529"),
        pytest.param("mp3", "mp3", 529, 576, True, id="MP3 with a header that names no encoder"),
        pytest.param("caf", "aac", None, 2112, True, id="AAC in CAF is Apple's"),
        pytest.param("caf", "alac", None, 0, False, id="lossless"),
        pytest.param("wav", "pcm_s16le", None, 0, False, id="plain"),
        pytest.param("webm", "opus", 312, 0, False, id="Opus states its own"),
        pytest.param("asf", "wmav2", None, 0, True, id="not known, and said so"),
    ],
)
def test_lead_in(container: str, codec: str, skipped: int | None, dropped: int, *, says: bool) -> None:
    samples, said = lead_in(container, codec, skipped, 48_000)
    assert samples == dropped
    assert (said is not None) == says


def test_what_was_assumed_is_said_in_milliseconds() -> None:
    said = lead_in("aac", "aac", None, 48_000)[1]
    assert said is not None
    assert "1024 samples (21.3 ms) are assumed" in said
