"""A finding is read back from its JSON, or is refused."""

from __future__ import annotations

from typing import Any

import pytest

from evenhand.acts.documents import value_of
from evenhand.measuring.values import Finding

EVIDENCE = {
    "measure": "balance.level_db",
    "value": 3.5,
    "unit": "dB",
    "n": 126,
    "ci95": [3.0, 4.0],
    "audible_from": 1.0,
    "positions": [],
}
FOUND = {"kind": "weak_hand", "evidence": EVIDENCE}


def test_a_finding_is_read_back() -> None:
    found = value_of(FOUND, Finding)
    assert found.evidence is not None
    assert (found.kind, found.evidence.ci95, found.evidence.n) == ("weak_hand", (3.0, 4.0), 126)


@pytest.mark.parametrize("ends", ["", [], [3.0], [1.0, 2.0, 3.0], ["a", "b"], 3.0, {}])
def test_a_range_that_is_no_two_numbers_is_refused_as_damaged(ends: Any) -> None:
    with pytest.raises(ValueError, match="at `"):
        value_of({**FOUND, "evidence": {**EVIDENCE, "ci95": ends}}, Finding)
