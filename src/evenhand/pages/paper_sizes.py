"""The papers that pages are printed on."""

from __future__ import annotations

from typing import Literal

Paper = Literal["a4", "letter"]

WIDTHS_PT: dict[Paper, float] = {"a4": 595.28, "letter": 612.0}  # ISO 216; ANSI Y14.1
SETTER_PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
