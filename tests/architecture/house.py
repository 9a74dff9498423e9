"""The house's files, for the tests that look at them."""

from __future__ import annotations

import subprocess
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted((ROOT / "src" / "evenhand").rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
DOCS = sorted((ROOT / "docs").rglob("*.md"))


def named(path: Path) -> str:
    """Name a file from the house's root."""
    return path.relative_to(ROOT).as_posix()


def module_of(path: Path) -> str:
    """Name the module in a source file."""
    parts = path.relative_to(ROOT / "src").with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def kept() -> list[Path]:
    """List the files that version control keeps, or, in a copy without it, all of the house's own."""
    listed = subprocess.run(
        ["git", "-C", str(ROOT), "ls-files", "-z"],  # noqa: S607 - whichever git is there
        capture_output=True,
        text=True,
        check=False,
    )
    if listed.returncode == 0:
        paths = [ROOT / name for name in listed.stdout.split("\0") if name]
        return [path for path in paths if path.is_file()]
    return [*SOURCES, *TESTS, *DOCS, *ROOT.glob("*.*"), ROOT / "Makefile"]
