"""What a clone installs is fixed: the pins are all that is needed, and nothing is looked up beside them."""

from __future__ import annotations

import os
import re
import subprocess
from collections.abc import Iterator
from functools import lru_cache
from importlib.metadata import PackageNotFoundError, requires

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.architecture.house import ROOT

PINS = {
    "constraints.txt": (),
    "constraints-dev.txt": ("dev",),
    "constraints-security.txt": ("security",),
}  # and the extras of Evenhand that each brings
MACHINES = [
    {"python_version": f"3.{minor}", "python_full_version": f"3.{minor}.0", "sys_platform": system, **names}
    for minor in (11, 12, 13, 14)
    for system, names in {
        "linux": {"platform_system": "Linux", "platform_machine": "x86_64", "os_name": "posix"},
        "darwin": {"platform_system": "Darwin", "platform_machine": "arm64", "os_name": "posix"},
    }.items()
]


def holds(wanted: Requirement, machine: dict[str, str], extras: frozenset[str]) -> bool:
    """Say whether a requirement counts on this machine, with these extras asked for."""
    if wanted.marker is None:
        return True
    return any(wanted.marker.evaluate({**machine, "extra": extra}) for extra in extras or {""})


@lru_cache
def needs_of(name: str) -> tuple[Requirement, ...]:
    """Give what an installed package says it needs; nothing where it is not installed here."""
    try:
        return tuple(Requirement(each) for each in requires(name) or ())
    except PackageNotFoundError:
        return ()


def pinned(name: str, machine: dict[str, str]) -> set[str]:
    lines = re.findall(r"^[a-z0-9].*?(?= \\$)", (ROOT / name).read_text("utf-8"), re.MULTILINE)
    found = [Requirement(line) for line in lines]
    return {canonicalize_name(each.name) for each in found if holds(each, machine, frozenset())}


def needed(machine: dict[str, str], extras: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Walk from Evenhand through all that it needs on a machine: a package, and who asks for it."""
    seen: set[tuple[str, frozenset[str]]] = set()
    waiting = [("evenhand", frozenset(extras))]
    while waiting:
        asking, asked = waiting.pop()
        if (asking, asked) in seen:
            continue
        seen.add((asking, asked))
        for each in needs_of(asking):
            if holds(each, machine, asked):
                name = canonicalize_name(each.name)
                yield name, asking
                waiting.append((name, frozenset(each.extras)))


@pytest.mark.parametrize("machine", MACHINES, ids=lambda m: f"{m['python_version']} {m['sys_platform']}")
@pytest.mark.parametrize("name", PINS)
def test_the_pins_are_all_that_is_needed(name: str, machine: dict[str, str]) -> None:
    """Extras of packages too: one asks for coverage[toml], where the pins name coverage."""
    there = pinned(name, machine) | {"evenhand"}
    missing = {f"{each}, for {asking}" for each, asking in needed(machine, PINS[name]) if each not in there}
    assert missing == set()


def test_a_missing_pin_would_be_noticed() -> None:
    assert ("coverage", "pytest-cov") in set(needed(MACHINES[0], ("dev",)))
    assert "numpy" in pinned("constraints.txt", MACHINES[0])


@pytest.mark.parametrize("target", [".venv/ready-to-run", ".venv/ready-to-build"])
def test_nothing_is_looked_up_beside_the_pins(target: str) -> None:
    """An install that resolves would find what came out later."""
    done = subprocess.run(
        ["make", "--always-make", "--dry-run", "--no-print-directory", "VENV=.venv", target],  # noqa: S607 - whichever make is there
        cwd=ROOT,
        env={name: value for name, value in os.environ.items() if not name.startswith("MAKE")},
        capture_output=True,
        text=True,
        check=True,
    )
    installs = [line for line in done.stdout.splitlines() if " -m pip " in line and " install " in line]
    assert len(installs) == 2
    assert all("--no-deps" in line for line in installs)
    assert ["--require-hashes" in line for line in installs] == [True, False]
    assert "--no-build-isolation" in installs[1]
    assert " -m pip " in done.stdout.splitlines()[-2]
    assert done.stdout.splitlines()[-2].endswith(" check")


def test_every_pin_has_a_hash_and_no_address() -> None:
    for name in PINS:
        text = (ROOT / name).read_text("utf-8")
        entries = re.split(r"\n(?=[a-z0-9])", text)[1:]
        assert all("--hash=sha256:" in entry for entry in entries)
        assert "://" not in text
