"""How deep the laws are searched: the one place where Hypothesis's number of examples is set.

A law says what share of the depth it takes: little where an example hears a take, all where it parses text.
The profile says how deep that is: `quick` in `make test`, with the same examples each time;
`deep` in `make deep`, ten times as many and others each time. `EVENHAND_LAWS` names the profile.
"""

from __future__ import annotations

import os
from collections.abc import Collection

from hypothesis import HealthCheck, Phase, settings

EXAMPLES = {"quick": 100, "deep": 1000}
LAWS = os.environ.get("EVENHAND_LAWS", "quick")


def load_depth() -> None:
    """Make the profile that the environment names the one that holds."""
    if LAWS not in EXAMPLES:
        raise ValueError(f"EVENHAND_LAWS is {LAWS!r}; it must be one of: {', '.join(EXAMPLES)}")
    settings.register_profile(LAWS, deadline=None, max_examples=EXAMPLES[LAWS], derandomize=LAWS == "quick")
    settings.load_profile(LAWS)


def share(part: float, *, suppress: Collection[HealthCheck] = ()) -> settings:
    """Give the settings of a law that takes this part (0 to 1) of the profile's examples."""
    return settings(max_examples=max(1, round(part * EXAMPLES[LAWS])), suppress_health_check=suppress)


def for_ever(batch: int) -> settings:
    """Give the settings of what is drawn batch after batch for as long as somebody wants (tests/fuzz)."""
    phases = [Phase.generate, Phase.shrink]
    every = list(HealthCheck)
    return settings(
        max_examples=batch, deadline=None, database=None, phases=phases, suppress_health_check=every
    )


load_depth()
