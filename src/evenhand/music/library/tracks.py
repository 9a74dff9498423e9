"""The tracks of the library."""

TRACKS = (
    "drops",
    "one hand",
    "hand to hand",
    "singles",
    "bursts",
    "accents and taps",
    "down and up",
    "doubles",
    "triples",
    "paradiddles",
    "rolls",
    "flams",
    "drags",
    "odd groups",
    "left lead",
    "dynamics",
    "the forty",
)
