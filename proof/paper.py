"""From measured figures to a million takes a day, on paper; ``python -m proof.paper`` writes its tables.

Conventions: ``measured.json`` is what ``throughput.py --out`` wrote; ``Assumed`` is what was not measured.
A line shows its arithmetic. Rates are takes a second at the evening's peak. MB and TB are 10^6 and 10^12
bytes. There are no prices: they change, and none was looked up.
"""

from __future__ import annotations

import json
import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from proof.evening import Evening, fewest, raised_cosine, simulated

MEASURED = Path(__file__).with_name("measured.json")
DAY_S, YEAR = 86_400.0, 365
DAYS = (1e4, 1e5, 1e6)


@dataclass(frozen=True, slots=True)
class Assumed:
    """What was not measured."""

    takes: float = 1e6  # a day
    evening: float = 0.8  # the share of a day's takes that come in the evening
    hours: float = 5.0  # how long that is; within it the rate rises and falls as a raised cosine
    asks: float = 4.0  # times that a page asks how far a take is
    pages: float = 2.0  # pages that are opened for each take
    cores: int = 8  # of a machine
    hears: float = 0.9  # the share of a hearing core that may be busy at the peak: see the simulated evenings
    busy: float = 0.5  # the share of web and database cores that may be busy at the peak
    most_wait_s: float = 5.0  # what 99 of 100 takes may wait for a worker
    sync_ms: float = 2.6  # until a commit is on the disk: as pg_test_fsync says of this one
    network_mb_s: float = 100.0  # what a line of 1 Gbit/s carries, with its own part


@dataclass(frozen=True, slots=True)
class Measured:
    """What was measured: s of CPU a take, ms of CPU for what else, bytes; of the school's place."""

    hearing_s: float
    queue_ms: float
    database_ms: float
    arrival_ms: float
    page_ms: float
    state_ms: float
    sent_mb: float
    kept_mb: float
    row_kb: float

    @classmethod
    def read(cls, place: Path = MEASURED, on: str = "school") -> Measured:
        """Read what was written; hearing is that of two workers, which is how it runs."""
        told = json.loads(place.read_text("utf-8"))
        (rate,) = (each for each in told["rates"] if each["on"] == on and each["workers"] == 2)
        (own,) = (each for each in told["own"] if each["on"] == on)
        return cls(rate["cpu_s"], **{name: own[name] for name in cls.__slots__ if name != "hearing_s"})


@dataclass(frozen=True, slots=True)
class Line:
    """A line of the table: what, how it is worked out, how much, in what."""

    what: str
    how: str
    value: float
    unit: str


def peak(takes: float, assumed: Assumed) -> float:
    """Return the rate at the evening's peak, takes a second: the evening's own, and the rest of the day's."""
    _, evening = raised_cosine(takes * assumed.evening, assumed.hours)
    return evening + takes * (1 - assumed.evening) / (DAY_S - 3600 * assumed.hours)


def lines(measured: Measured, assumed: Assumed) -> list[Line]:
    """Work out what a day's takes need."""
    m, a = measured, assumed
    rate = peak(a.takes, a)
    web_ms = m.arrival_ms + a.asks * m.state_ms + a.pages * m.page_ms
    kept_tb, rows_gb = a.takes * m.kept_mb / 1e6, a.takes * m.row_kb / 1e6
    evening = f"2 x {a.takes:,.0f} x {a.evening} / ({a.hours:g} x 3600 s)"
    return [
        Line("takes at the peak", f"{evening} + the rest of the day's", rate, "a second"),
        Line("cores that hear, all busy", f"{rate:.1f}/s x {m.hearing_s:.3f} s", rate * m.hearing_s, "cores"),
        Line(
            "cores for the queue's own part",
            f"{rate:.1f}/s x {m.queue_ms:.1f} ms",
            rate * m.queue_ms / 1e3,
            "cores",
        ),
        Line(
            "web: CPU a take",
            f"{m.arrival_ms:.1f} + {a.asks:g} x {m.state_ms:.1f} + {a.pages:g} x {m.page_ms:.1f} ms",
            web_ms,
            "ms",
        ),
        Line(
            "web: cores", f"{rate:.1f}/s x {web_ms:.0f} ms / {a.busy}", rate * web_ms / 1e3 / a.busy, "cores"
        ),
        Line(
            "Postgres: cores for the queue",
            f"{rate:.1f}/s x {m.database_ms:.1f} ms / {a.busy}",
            rate * m.database_ms / 1e3 / a.busy,
            "cores",
        ),
        Line(
            f"machines of {a.cores} cores that hear",
            f"{rate * m.hearing_s:.1f} / {a.hears} / {a.cores}, rounded up",
            math.ceil(rate * m.hearing_s / a.hears / a.cores),
            "machines",
        ),
        Line(
            f"machines of {a.cores} cores that serve",
            f"{rate * web_ms / 1e3 / a.busy:.1f} / {a.cores}, rounded up",
            math.ceil(rate * web_ms / 1e3 / a.busy / a.cores),
            "machines",
        ),
        Line("coming in at the peak", f"{rate:.1f}/s x {m.sent_mb:.2f} MB", rate * m.sent_mb, "MB/s"),
        Line("recordings a day", f"{a.takes:,.0f} x {m.kept_mb:.2f} MB", kept_tb, "TB"),
        Line("recordings a year", f"{kept_tb:.2f} TB x {YEAR}", kept_tb * YEAR, "TB"),
        Line(
            "what was heard, a day, before it is packed", f"{a.takes:,.0f} x {m.row_kb:.0f} kB", rows_gb, "GB"
        ),
    ]


def breaks(measured: Measured, assumed: Assumed) -> list[Line]:
    """Say at how many takes a day each part of the smallest house is at its end, the first first.

    The smallest house: this machine's two cores for everything, one line of 1 Gbit/s, one database.
    """
    m, a = measured, assumed
    one_a_day = peak(1.0, a)  # takes a second at the peak, of one take a day
    web_s = (m.arrival_ms + a.asks * m.state_ms + a.pages * m.page_ms) / 1e3
    alone_ms = m.queue_ms + m.database_ms + 2 * a.sync_ms
    found = [
        Line(
            "two cores that hear and serve",
            f"2 / ({m.hearing_s:.3f} + {web_s:.3f} s)",
            2 / (m.hearing_s + web_s) / one_a_day,
            "takes a day",
        ),
        Line(
            "one web process: Python computes on one core",
            f"1 / {web_s:.3f} s",
            1 / web_s / one_a_day,
            "takes a day",
        ),
        Line(
            "a line of 1 Gbit/s",
            f"{a.network_mb_s:g} MB/s / {m.sent_mb:.2f} MB",
            a.network_mb_s / m.sent_mb / one_a_day,
            "takes a day",
        ),
        Line(
            "one studio's takes, written one after the other",
            f"1 / ({m.queue_ms:.1f} + {m.database_ms:.1f} + 2 x {a.sync_ms:g} ms)",
            1e3 / alone_ms / one_a_day,
            "takes a day",
        ),
        Line(
            "one Postgres with 8 cores, half busy",
            f"8 x {a.busy} / {m.database_ms / 1e3:.4f} s",
            8 * a.busy / (m.database_ms / 1e3) / one_a_day,
            "takes a day",
        ),
    ]
    return sorted(found, key=lambda line: line.value)


def evenings(measured: Measured, assumed: Assumed, *, seed: int = 1) -> list[tuple[float, list[Evening]]]:
    """Simulate evenings of some sizes: with the fewest workers that will do, a tenth fewer, a tenth more."""
    service_s, hours, found = spread_of(measured.hearing_s), assumed.hours, []
    for takes in DAYS:
        evening = takes * assumed.evening
        needed = fewest(evening, hours, assumed.most_wait_s, service_s, seed=seed).workers
        tried = sorted({needed, *(max(1, round(needed * share)) for share in (0.9, 1.1))})
        found.append((takes, [simulated(evening, hours, each, service_s, seed=seed) for each in tried]))
    return found


def spread_of(mean_s: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Give service times around a mean: takes of 10 to 50 s are heard in proportion, evenly spread.

    That hearing is linear in a take's length was measured (docs/benchmark.md); how long takes are is assumed.
    """
    shares: np.ndarray[tuple[int], np.dtype[np.float64]] = np.linspace(1 / 3, 5 / 3, 41)
    return mean_s * shares


def as_table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Write a table in Markdown."""
    return "\n".join(
        f"| {' | '.join(row)} |" for row in [heads, ["---"] * len(heads), *(list(row) for row in rows)]
    )


def tables(measured: Measured, assumed: Assumed) -> Mapping[str, str]:
    """Write the tables of docs/many.md that are worked out from figures alone, by name."""
    needs = [[each.what, each.how, f"{each.value:,.3g}", each.unit] for each in lines(measured, assumed)]
    first = [[each.what, each.how, _rounded(each.value)] for each in breaks(measured, assumed)]
    return {
        "needs": as_table(["what", "worked out", "is", "in"], needs),
        "breaks": as_table(["what", "takes a second at the peak", "takes a day"], first),
    }


def evening_table(found: Sequence[tuple[float, list[Evening]]]) -> str:
    """Write the simulated evenings."""
    rows = [
        [
            f"{takes:,.0f}",
            f"{each.workers}",
            f"{each.busy:.2f}",
            f"{each.p50_s:.2f}",
            f"{each.p99_s:.1f}",
            f"{each.longest_s:.0f}",
        ]
        for takes, tried in found
        for each in tried
    ]
    heads = ["takes a day", "workers", "busy at the peak", "wait p50, s", "p99, s", "longest, s"]
    return as_table(heads, rows)


def _rounded(value: float) -> str:
    """Write a number with two digits that count."""
    return f"{float(f'{value:.2g}'):,.0f}"


def main() -> int:
    """Print the tables."""
    measured, assumed = Measured.read(), Assumed()
    for name, table in tables(measured, assumed).items():
        print(f"{name}\n\n{table}\n")
    print(f"evenings\n\n{evening_table(evenings(measured, assumed))}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
