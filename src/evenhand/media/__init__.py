"""Bytes in, samples and strokes out, and back: the only room that knows containers and codecs."""
