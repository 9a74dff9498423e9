"""Reading exercise text: the walk over it, the signs of a note, and bars, meters and repeats."""
