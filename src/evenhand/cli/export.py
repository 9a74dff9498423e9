"""Write an exercise as SVG, MusicXML, MIDI or MEI."""

from __future__ import annotations


def export() -> None:
    """Write an exercise as SVG, MusicXML, MIDI or MEI."""
    raise NotImplementedError
