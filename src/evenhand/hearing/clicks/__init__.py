"""The click: found, followed, told from a hand, and taken out."""
