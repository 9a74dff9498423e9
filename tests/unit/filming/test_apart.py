"""What draws films and what watches them share no code beyond exercises, plans and sound."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

import benchmarks.filming

FILES = sorted(Path(benchmarks.filming.__file__).parent.glob("*.py"))


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_the_filming_knows_nothing_of_the_watching(path: Path) -> None:
    nodes = list(ast.walk(ast.parse(path.read_text("utf-8"))))
    asked = {node.module or "" for node in nodes if isinstance(node, ast.ImportFrom)}
    asked |= {alias.name for node in nodes if isinstance(node, ast.Import) for alias in node.names}
    ours = {name for name in asked if name.startswith("evenhand.")}
    assert {name.split(".")[1] for name in ours} <= {"music", "synthesis"}
