"""Bytes in, samples or MIDI hits out; what cannot be read is refused by name."""
