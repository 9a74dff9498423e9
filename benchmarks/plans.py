"""How long a thousand plans take: ``python -m benchmarks.plans``."""

from __future__ import annotations

import time

from evenhand.acts.weeks.plan import WeekRequest, plan_week
from evenhand.progress.stages.usual import COMMON_PATH

PLANS = 1000


def main() -> None:
    """Plan weeks of every stage in turn, and print the seconds a thousand take on one core."""
    stages = [stage.name for stage in COMMON_PATH.stages]
    plan_week(WeekRequest(20, 5, "half"), COMMON_PATH)
    began, cpu = time.perf_counter(), time.process_time()
    for seed in range(PLANS):
        plan_week(WeekRequest(20, 5, stages[seed % len(stages)], seed), COMMON_PATH)
    wall_s, cpu_s = time.perf_counter() - began, time.process_time() - cpu
    print(f"{PLANS} plans: {wall_s:.1f} s, {cpu_s:.1f} s of one core")


if __name__ == "__main__":
    main()
