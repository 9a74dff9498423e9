"""A finding's JSON (docs/json.md), read back."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, get_args

from evenhand.domain.findings import Evidence, Finding, FindingKind
from evenhand.domain.measures import Measure
from evenhand.domain.remarks import Remark, RemarkKind

Json = Mapping[str, Any]


def finding_of(found: Json) -> Finding:
    """Read one finding; one that an earlier version stored is kept in its words.

    What it lacks raises KeyError, TypeError or ValueError.
    """
    evidence = None if found["evidence"] is None else _evidence(found["evidence"])
    kind = _finding_kind(found["kind"])
    if "figures" not in found:
        written = {"text": str(found["text"]), "remedy": str(found["remedy"])}
        return Finding(kind, evidence, remark=Remark("written", written))
    return Finding(
        kind,
        evidence,
        None if found["question"] is None else _finding_kind(found["question"]),
        {str(name): figure_of(figure) for name, figure in found["figures"].items()},
        remark_of(found["remark"]),
        bool(found["practise"]),
    )


def _finding_kind(found: str) -> FindingKind:
    kinds: tuple[FindingKind, ...] = get_args(FindingKind)
    (kind,) = (each for each in kinds if each == found)
    return kind


def figure_of(found: Json) -> Measure:
    """Read a figure."""
    ends = found.get("ci95")
    value = _number(found["value"])
    return Measure(
        value, int(found["n"]), str(found["unit"]), _two(ends) if ends else None, found.get("needs")
    )


def remark_of(found: Json | str | None) -> Remark | None:
    """Read a remark; an earlier version stored its words alone."""
    if found is None:
        return None
    if isinstance(found, str):
        return Remark("written", {"text": found})
    kinds: tuple[RemarkKind, ...] = get_args(RemarkKind)
    (kind,) = (each for each in kinds if each == found["kind"])
    return Remark(kind, dict(found["facts"]))


def remarks_of(found: Json) -> tuple[Remark | None, Remark | None, tuple[Remark, ...]]:
    """Read what a take is ambiguous in, why it is unlike its exercise, and its warnings."""
    remarks = found.get("remarks", found)
    warnings = tuple(each for each in map(remark_of, remarks["warnings"]) if each is not None)
    return remark_of(remarks["ambiguity"]), remark_of(remarks["unlike"]), warnings


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
