"""What goes to stderr: one clear line each."""

from __future__ import annotations

import sys


def say_line(message: str) -> None:
    """Put one line on stderr; line breaks become spaces, and what a terminal would act on is taken out."""
    line = " ".join(message.split())
    sys.stderr.write(f"evenhand: {''.join(each if each.isprintable() else '?' for each in line)}\n")
