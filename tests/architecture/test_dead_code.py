"""What nothing uses goes: names of modules are looked for exactly, names inside classes by vulture."""

from __future__ import annotations

import ast
import re
from collections import defaultdict
from collections.abc import Iterator

from vulture import Vulture

from evenhand.cli.main import COMMANDS
from evenhand.web.routes import ROUTES
from tests.architecture.house import DOCS, HOUSE, ROOT, Function

# What others call by name: a library, the database's columns, a format, or whoever uses the package.
CALLED_BY_OTHERS = {
    "__getitem__": "overloads of a sequence",
    "StartElementHandler": "expat calls it",
    "EndElementHandler": "expat calls it",
    "CharacterDataHandler": "expat calls it",
    "EntityDeclHandler": "expat calls it",
    "buffer_text": "expat reads it",
    "thread_type": "the decoder of films reads it",
    "skip_frame": "the same",
    "pix_fmt": "the encoders of pictures read it",
    "num_col_": "the solver reads it",
    "num_row_": "the solver reads it",
    "col_cost_": "the solver reads it",
    "col_lower_": "the solver reads it",
    "col_upper_": "the solver reads it",
    "row_lower_": "the solver reads it",
    "row_upper_": "the solver reads it",
    "integrality_": "the solver reads it",
    "format_": "the solver reads it",
    "start_": "the solver reads it",
    "index_": "the solver reads it",
    "value_": "the solver reads it",
    "compresslevel": "zipfile reads it",
    "isolation_level": "sqlite3 reads it",
    "install": "a step of the database calls it",
    "uninstall": "the same",
    "impl": "SQLAlchemy reads it",
    "cache_ok": "SQLAlchemy reads it",
    "process_bind_param": "SQLAlchemy calls it",
    "process_result_value": "SQLAlchemy calls it",
    "unfamiliar": "read by its name in COMPONENTS",
    "device_id": "a column of the studio's takes",
    "last_used_at": "a column of the studio's sessions",
    "meaning": "docs/simulated-player.md is held against it",
    "finish": "ends a take that whoever embeds the live ear hears live",
    "FakeTakes": "evenhand.testing is for the tests of whoever embeds Evenhand",
    "sound_take": "the same",
    "midi_take": "the same",
}
# What only tests and benchmarks call, and why it stands here and not with them.
SEEN_BY_TESTS = {
    "keep_recording": "puts a recording beside a take that was heard elsewhere",
    "pids": "of a pool's processes, to look at them",
    "sent_away": "counts, to look at the guard of connections",
    "turned_away": "the same",
    "hear_waiting_once": "hears what waits without a pool",
    "downgrade": "the way back of a migration",
    "record_drops": "the simulated player of drops: the truth that bounce is tested against",
}


def imported_names() -> dict[str, set[str]]:
    """Return what is asked of each module by others, by import and as ``module.name``."""
    found: dict[str, set[str]] = defaultdict(set)
    for tree in HOUSE.trees.values():
        modules: dict[str, str] = {}
        for node in ast.walk(tree):
            if isinstance(node, ast.ImportFrom) and node.module:
                found[node.module] |= {each.name for each in node.names}
                modules |= {each.asname or each.name: f"{node.module}.{each.name}" for each in node.names}
        for node in ast.walk(tree):
            if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                found[modules.get(node.value.id, "")].add(node.attr)
    for route in ROUTES:
        module, _, view = route.view.rpartition(".")
        found[f"evenhand.web.views.{module}"].add(view)
    for place in COMMANDS.values():
        module, _, command = place.partition(":")
        found[f"evenhand.cli.{module}"].add(command)
    return found


def defined(node: ast.stmt) -> Iterator[str]:
    """Give the names that a statement of a module defines; what is marked is used by its mark."""
    if isinstance(node, Function | ast.ClassDef):
        if not node.decorator_list or isinstance(node, ast.ClassDef):
            yield node.name
    elif isinstance(node, ast.Assign | ast.AnnAssign):
        targets = node.targets if isinstance(node, ast.Assign) else [node.target]
        yield from (each.id for target in targets for each in ast.walk(target) if isinstance(each, ast.Name))


def used_in(nodes: list[ast.stmt]) -> set[str]:
    return {each.id for node in nodes for each in ast.walk(node) if isinstance(each, ast.Name)}


def unused_in(tree: ast.Module, asked: set[str]) -> list[str]:
    """Name what a module defines and neither it nor another uses; a function's call of itself is no use."""
    named_by = [used_in([node]) for node in tree.body]
    return [
        name
        for number, node in enumerate(tree.body)
        for name in defined(node)
        if not name.startswith("__") and name not in asked
        if not any(name in names for other, names in enumerate(named_by) if other != number)
    ]


def named_outside() -> set[str]:
    """Return the words of templates, which read values by name, and the documented keys of JSON."""
    places = [path for path in HOUSE.package.rglob("*") if path.suffix in {".html", ".typ", ".json"}]
    read = {word for path in places for word in re.findall(r"\w+", path.read_text("utf-8"))}
    return read | {key for page in DOCS for key in re.findall(r'"(\w+)":', page.read_text("utf-8"))}


def unused_anywhere() -> list[str]:
    """Name what vulture finds: attributes, methods and fields that are set or defined, and read nowhere."""
    vulture = Vulture(ignore_decorators=["@*.command", "@event.listens_for"])
    vulture.scavenge([str(HOUSE.package)], exclude=["*/migrations/*"])
    called = {route.view.rpartition(".")[2] for route in ROUTES} | named_outside()
    called |= {place.rpartition(":")[2] for place in COMMANDS.values()}
    return [
        f"{item.filename.relative_to(ROOT)}:{item.first_lineno}: {item.name}"
        for item in vulture.get_unused_code(min_confidence=60)
        if item.name not in called | CALLED_BY_OTHERS.keys() | SEEN_BY_TESTS.keys()
        if not item.name.startswith("__")
    ]


def test_what_a_module_defines_is_used() -> None:
    asked = imported_names()
    unused = {
        f"{module}.{name}"
        for module, tree in HOUSE.trees.items()
        if ".migrations." not in module
        for name in unused_in(tree, asked[module])
        if name not in CALLED_BY_OTHERS | SEEN_BY_TESTS
    }
    assert unused == set()


def test_what_nothing_uses_would_be_found() -> None:
    tree = ast.parse("A, B = 1, 2\ndef f():\n  return f() + A\ndef _g(): ...\nclass C: ...\n")
    assert unused_in(tree, {"C"}) == ["B", "f", "_g"]


def test_what_is_set_is_read() -> None:
    assert unused_anywhere() == []


def test_no_name_is_let_through_for_nothing() -> None:
    """A list of exceptions only shrinks: what is used by now, or gone, is taken off it."""
    defined_here = {
        word for path in HOUSE.modules.values() for word in re.findall(r"\w+", path.read_text("utf-8"))
    }
    assert (CALLED_BY_OTHERS | SEEN_BY_TESTS).keys() - defined_here == set()
