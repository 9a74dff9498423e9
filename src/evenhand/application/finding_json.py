"""A finding's JSON (docs/json.md), read back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, get_args

from evenhand.domain.findings import Evidence, Finding, FindingKind

Json = Mapping[str, Any]


def finding_of(found: Json) -> Finding:
    """Read one finding. What it lacks raises KeyError, TypeError or ValueError."""
    kinds: tuple[FindingKind, ...] = get_args(FindingKind)
    (kind,) = (each for each in kinds if each == found["kind"])
    evidence = found["evidence"]
    return Finding(
        kind, str(found["text"]), None if evidence is None else _evidence(evidence), str(found["remedy"])
    )


def _evidence(found: Json) -> Evidence:
    """Read the figure behind a finding."""
    ends = found["ci95"]
    return Evidence(
        measure=str(found["measure"]),
        value=_number(found["value"]),
        unit=str(found["unit"]),
        n=int(found["n"]),
        ci95=None if ends is None else _two(ends),
        audible_from=_number(found["audible_from"]),
        positions=tuple(int(position) for position in found["positions"]),
    )


def _two(ends: Iterable[float]) -> tuple[float, float]:
    low, high = ends
    return float(low), float(high)


def _number(found: float | None) -> float | None:
    return None if found is None else float(found)
