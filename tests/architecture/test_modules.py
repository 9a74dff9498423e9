"""Modules stay small, say what they are, and define each name once."""

from __future__ import annotations

import ast
import doctest
import importlib
from pathlib import Path

import pytest

from tests.architecture.house import SOURCES, TESTS, lines_in, module_of, named, tree_of

MOST_LINES = 470
NO_ROOMS = {"utils", "util", "helpers", "helper", "common", "misc", "manager", "core", "base", "stuff"}


def defined_twice(tree: ast.Module) -> list[str]:
    """Name what a body defines again, so that the later silently wins."""
    twice = []
    for body in [tree.body, *(node.body for node in ast.walk(tree) if isinstance(node, ast.ClassDef))]:
        names = [
            node.name
            for node in body
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
            and not any(
                "overload" in ast.unparse(mark) or "setter" in ast.unparse(mark)
                for mark in node.decorator_list
            )
        ]
        twice += [name for name in set(names) if names.count(name) > 1]
    return twice


def test_a_module_is_short_enough_to_read() -> None:
    lengths = {named(path): lines_in(path) for path in [*SOURCES, *TESTS]}
    assert {name: lines for name, lines in lengths.items() if lines > MOST_LINES} == {}


def test_a_module_defines_each_name_once() -> None:
    found = {named(path): defined_twice(tree_of(path)) for path in [*SOURCES, *TESTS]}
    assert {name: twice for name, twice in found.items() if twice} == {}


def test_a_name_defined_twice_would_be_found() -> None:
    assert defined_twice(
        ast.parse("def a(): ...\nclass B:\n  def c(self): ...\n  def c(self): ...\ndef a(): ...")
    ) == [
        "a",
        "c",
    ]


def test_a_module_says_what_it_is() -> None:
    assert [named(path) for path in SOURCES if not ast.get_docstring(tree_of(path))] == []


def test_there_is_no_room_for_odds_and_ends() -> None:
    assert [named(path) for path in SOURCES if NO_ROOMS & set(module_of(path).split("."))] == []


@pytest.mark.parametrize("path", [path for path in SOURCES if ">>>" in path.read_text("utf-8")], ids=named)
def test_the_examples_in_the_documentation_of_functions_hold(path: Path) -> None:
    results = doctest.testmod(importlib.import_module(module_of(path)))
    assert results.attempted
    assert not results.failed


def test_what_a_module_exports_is_there_and_documented() -> None:
    for path in SOURCES:
        if "__all__" in path.read_text("utf-8"):
            module = importlib.import_module(module_of(path))
            for name in module.__all__:
                assert getattr(module, name).__doc__, f"{module.__name__}.{name}"
