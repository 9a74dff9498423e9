"""Standard MIDI Files, both ways."""
