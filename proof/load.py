"""An evening of many users at once, ``make load``: how long each route takes, and whether memory stays flat.

Serves a studio on loopback as behind a proxy, lets locust's users in (``users.py``), and looks every few
seconds how much memory the server's processes hold. Ends with 1 where there were errors.

LOAD_USERS    how many (500); one in fifty is a teacher
LOAD_MINUTES  how long the compressed evening lasts (10); all are there after the first third
LOAD_TAKES    how many takes each student sends (3)
LOAD_ON       school or folder, as SOAK_ON (school)
LOAD_KEEP     a folder for logs and locust's tables
"""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile as sf
from scipy import stats

from evenhand.arrays import Floats
from evenhand.music.exercise import Tempo
from evenhand.music.text import parse_exercise
from evenhand.synthesis.instruments import Scene
from evenhand.synthesis.player import simulate
from proof.parts import descendants, end_in_order, resident_mb
from proof.places import PASSWORD, Place
from proof.soak import PLACES
from proof.sounds import TEMPO, TEXT

ORIGIN = "https://drums.example"
TIMES = 8  # the exercise so often: 18 s
LOOK_S = 5.0
FEWEST_LOOKS = 18
COLUMNS = ("Request Count", "Failure Count", "50%", "95%", "99%")


@dataclass(frozen=True, slots=True)
class Settings:
    """What is asked for."""

    users: int = 500
    minutes: float = 10.0
    takes: int = 3
    on: str = "school"

    @classmethod
    def of_environment(cls) -> Settings:
        """Read them."""
        seen = os.environ.get
        return cls(
            int(seen("LOAD_USERS", "500")),
            float(seen("LOAD_MINUTES", "10")),
            int(seen("LOAD_TAKES", "3")),
            seen("LOAD_ON", "school"),
        )


@dataclass(frozen=True, slots=True)
class Slope:
    """How memory grew: MB a minute, and half of its 95 % interval."""

    mb_a_minute: float
    within: float
    first_mb: float
    last_mb: float


def slope(at_s: Floats, held_mb: Floats, parts: int = 6) -> Slope:
    """Fit a line to memory over time, shapes (n,), s and MB, by the means of parts that follow each other.

    Looks that follow each other are alike, so a line through all of them would seem surer than it is.
    """
    at, held = (np.array([part.mean() for part in np.array_split(each, parts)]) for each in (at_s, held_mb))
    found = stats.linregress(at / 60.0, held)
    within = float(stats.t.ppf(0.975, parts - 2) * found.stderr)
    return Slope(float(found.slope), within, float(held[0]), float(held[-1]))


def facts(settings: Settings, place: Place, folder: Path) -> Path:
    """Write what the users need to know."""
    sound = folder / "take.wav"
    played = simulate(
        parse_exercise(TEXT), Tempo.parse(TEMPO), TIMES, scene=Scene(lead_in_s=0.5, count_in="none"), seed=3
    )
    sf.write(sound, played.samples, played.rate_hz, subtype="PCM_16")
    told = {
        "secrets": [each.secret for each in place.invited],
        "taught": list(place.taught.items()),
        "password": PASSWORD,
        "origin": ORIGIN,
        "sound": str(sound),
        "exercise": TEXT,
        "tempo": TEMPO,
        "takes": settings.takes,
        "pause_s": 60.0 * settings.minutes / (2 * settings.takes + 2),
        "seed": time.time_ns() % 10**6,
    }
    at = folder / "facts.json"
    at.write_text(json.dumps(told), "utf-8")
    return at


def run(settings: Settings, folder: Path) -> tuple[list[dict[str, str]], list[tuple[float, float, int]]]:
    """Serve, let the users in, and look at memory; give locust's table, and time, MB and processes."""
    students = settings.users - max(1, settings.users // 50)
    options = ["--behind-proxy", "--address", ORIGIN]
    place = PLACES[settings.on](
        folder, settings.users * settings.takes, students, seed=1, wired=False, options=options
    )
    try:
        place.start()
        env = {**os.environ, "LOAD_FACTS": str(facts(settings, place, folder))}
        command = [sys.executable, "-m", "locust", "-f", str(Path(__file__).with_name("users.py"))]
        command += ["--headless", "--host", place.address, "--users", str(settings.users), "--only-summary"]
        command += ["--spawn-rate", f"{settings.users / (20.0 * settings.minutes):.2f}"]
        command += [
            "--run-time",
            f"{60 * settings.minutes:.0f}s",
            "--csv",
            str(folder / "locust"),
            "--loglevel",
        ]
        with (folder / "locust.log").open("wb") as log:
            users = subprocess.Popen([*command, "ERROR"], env=env, stdout=log, stderr=log)
            looked, began_s = [], time.monotonic()
            while users.poll() is None:
                pids = [pid for part in place.parts() for pid in (part.pid, *descendants(part.pid))]
                looked.append((time.monotonic() - began_s, resident_mb(pids), len(pids)))
                time.sleep(LOOK_S)
    finally:
        place.close()
    with (folder / "locust_stats.csv").open(encoding="utf-8") as file:
        return list(csv.DictReader(file)), looked


def as_text(rows: Sequence[dict[str, str]], looked: Sequence[tuple[float, float, int]]) -> str:
    """Write a line for each route, and one for memory once all users are there."""
    lines = [f"{'route':45} {'asked':>7} {'errors':>7} {'p50':>7} {'p95':>7} {'p99':>7}  ms"]
    lines += [f"{row['Name']:45} " + " ".join(f"{row[name]:>7}" for name in COLUMNS) for row in rows]
    settled = np.array([each[:2] for each in looked if each[0] > looked[-1][0] / 3])
    if len(settled) < FEWEST_LOOKS:
        return "\n".join([*lines, "memory: too few looks to judge"])
    found = slope(settled[:, 0], settled[:, 1])
    lines.append(
        f"memory of {looked[-1][2]} processes: {found.first_mb:.0f} MB, then {found.last_mb:.0f} MB; "
        f"{found.mb_a_minute:+.2f} MB a minute (95 %: within {found.within:.2f})"
    )
    return "\n".join(lines)


def main() -> int:
    """Run, and print the table."""
    settings = Settings.of_environment()
    end_in_order()
    with tempfile.TemporaryDirectory(prefix="evenhand-load-") as own:
        folder = Path(os.environ.get("LOAD_KEEP", own))
        folder.mkdir(parents=True, exist_ok=True)
        rows, looked = run(settings, folder)
    print(f"{settings.users} users, {settings.minutes:g} minutes, {settings.takes} takes each, {settings.on}")
    print(as_text(rows, looked))
    return 1 if int(rows[-1]["Failure Count"]) else 0


if __name__ == "__main__":
    sys.exit(main())
