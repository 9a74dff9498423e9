"""Take exercises over from MusicXML or Standard MIDI Files."""

from __future__ import annotations


def import_score() -> None:
    """Take exercises over from MusicXML or Standard MIDI Files."""
    raise NotImplementedError
