"""The house's files and what stands in them, for the tests that look at them and the figures of the house."""

from __future__ import annotations

import ast
import re
import subprocess
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted((ROOT / "src" / "evenhand").rglob("*.py"))
TESTS = sorted((ROOT / "tests").rglob("*.py"))
DOCS = sorted((ROOT / "docs").rglob("*.md"))

Function = ast.FunctionDef | ast.AsyncFunctionDef


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


@cache
def tree_of(path: Path) -> ast.Module:
    """Read a file as the interpreter does."""
    return ast.parse(path.read_text("utf-8"))


@cache
def lines_in(path: Path) -> int:
    """Count a file's lines."""
    return len(path.read_text("utf-8").splitlines())


def docstrings_of(tree: ast.AST) -> set[int]:
    """Return the ids of the strings in a tree that document something."""
    documented = (ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)
    return {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, documented) and node.body and isinstance(node.body[0], ast.Expr)
    }


def sentences_in(tree: ast.AST) -> list[tuple[int, str]]:
    """Find the strings that a person would read as a sentence: a capital, words, a full stop.

    What documents something is none, nor what an error is raised with: that is the error's own sentence.
    """
    skipped = docstrings_of(tree) | {
        id(said)
        for node in ast.walk(tree)
        if isinstance(node, ast.Raise) and node.exc is not None
        for said in ast.walk(node.exc)
    }
    found = []
    for node in ast.walk(tree):
        text = "".join(_pieces(node)).strip()
        is_sentence = re.match(r"[A-Z{]", text) and re.search(r"[.!?]$", text) and len(text.split()) >= 3
        if is_sentence and id(node) not in skipped and re.search(r"\b[a-z]{2,} ", text):
            found.append((getattr(node, "lineno", 0), text))
    return found


def _pieces(node: ast.AST) -> Iterator[str]:
    """Give a string's text, and an f-string's with braces where something is put in."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr):
        for part in node.values:
            yield from _pieces(part) if isinstance(part, ast.Constant) else "{}"


@dataclass(frozen=True)
class House:
    """A package as it stands on the disk."""

    package: Path

    @cached_property
    def modules(self) -> dict[str, Path]:
        """Every module's file."""
        return {self._name(path): path for path in sorted(self.package.rglob("*.py"))}

    @cached_property
    def trees(self) -> dict[str, ast.Module]:
        """Every module as the interpreter reads it."""
        return {name: tree_of(path) for name, path in self.modules.items()}

    def _name(self, path: Path) -> str:
        parts = path.relative_to(self.package.parent).with_suffix("").parts
        return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)

    def room(self, module: str) -> str:
        """Name the room a module is in."""
        path = self.modules[module].relative_to(self.package)
        return path.parts[0] if len(path.parts) > 1 else "(beside the rooms)"

    def by_room(self) -> dict[str, tuple[int, int]]:
        """Count modules and lines of each room."""
        found: dict[str, tuple[int, int]] = defaultdict(lambda: (0, 0))
        for module, path in self.modules.items():
            n, lines = found[self.room(module)]
            found[self.room(module)] = (n + 1, lines + lines_in(path))
        return dict(sorted(found.items()))

    def functions(self) -> Iterator[tuple[str, Function]]:
        """Give every function with the module it stands in."""
        for module, tree in self.trees.items():
            for node in ast.walk(tree):
                if isinstance(node, Function):
                    yield module, node

    def function_lengths(self) -> list[int]:
        """Return every function's lines, shortest first; its documentation and its marks are not counted."""
        return sorted(length_of(function) for _, function in self.functions())

    def class_names_twice(self) -> dict[str, list[str]]:
        """Return the class names that several modules define, with these."""
        found: dict[str, list[str]] = defaultdict(list)
        for module, tree in self.trees.items():
            for node in ast.walk(tree):
                if isinstance(node, ast.ClassDef):
                    found[node.name].append(module)
        return {name: where for name, where in sorted(found.items()) if len(where) > 1}

    def importers(self) -> dict[str, set[str]]:
        """Return who imports each module."""
        found: dict[str, set[str]] = {module: set() for module in self.modules}
        for module, tree in self.trees.items():
            for node in ast.walk(tree):
                for name in _imported(node) & found.keys():
                    found[name].add(module)
        return found

    def with_one_importer(self) -> list[str]:
        """Return the modules that one other imports."""
        return [
            name
            for name, users in self.importers().items()
            if len(users) == 1 and self.modules[name].name != "__init__.py"
        ]

    def array_names(self) -> set[str]:
        """Return the names that stand for arrays in annotations."""
        names = {"NDArray", "ndarray"}
        for node in (node for tree in self.trees.values() for node in tree.body):
            if isinstance(node, ast.Assign) and "NDArray[" in ast.unparse(node.value):
                names |= {each.id for each in node.targets if isinstance(each, ast.Name)}
        return names

    def array_functions(self) -> Iterator[tuple[str, Function, bool, bool]]:
        """Give the public functions with arrays; whether they take, and whether they give any."""
        arrays = re.compile(rf"\b({'|'.join(sorted(self.array_names()))})\b")
        for module, tree in self.trees.items():
            for function in _public(tree):
                asked = [*function.args.posonlyargs, *function.args.args, *function.args.kwonlyargs]
                takes = any(each.annotation and arrays.search(ast.unparse(each.annotation)) for each in asked)
                gives = bool(function.returns and arrays.search(ast.unparse(function.returns)))
                if takes or gives:
                    yield module, function, takes, gives

    def array_functions_undocumented(self) -> list[str]:
        """Name the public functions with arrays whose documentation does not say their shapes."""
        return [
            f"{module}.{function.name}"
            for module, function, takes, gives in self.array_functions()
            if not says_its_arrays(ast.get_docstring(function) or "", takes=takes, gives=gives)
        ]


def length_of(function: Function) -> int:
    """Count a function's lines without its documentation."""
    first = function.body[0]
    documented = ast.get_docstring(function) is not None
    return (function.end_lineno or 0) - function.lineno + 1 - documented * _lines_of(first)


def _lines_of(node: ast.stmt) -> int:
    return (node.end_lineno or 0) - node.lineno + 1


def says_its_arrays(documentation: str, *, takes: bool, gives: bool) -> bool:
    """Say whether a shape stands in each section that arrays ask for.

    Where it is all that there is to say, a line before the sections does: "Return each mean, shape (n,)."
    """
    before, *pieces = re.split(r"^(\w+)\n-{3,}\n", documentation, flags=re.MULTILINE)
    sections = dict(zip(pieces[::2], pieces[1::2], strict=True))
    wanted = ["Parameters"] * takes + ["Returns"] * gives
    return all(_SHAPE.search(sections.get(name, sections.get("Yields", before))) for name in wanted)


_SHAPE = re.compile(r"\bshape\b|\(\w+,\)|\(\w+(, \w+)+\)|\bas for ``", re.IGNORECASE)


def _public(tree: ast.Module) -> Iterator[Function]:
    """Give a module's public functions, and the public ones of its public classes."""
    for node in tree.body:
        inside = node.body if isinstance(node, ast.ClassDef) and not node.name.startswith("_") else [node]
        yield from (each for each in inside if isinstance(each, Function) and not each.name.startswith("_"))


def _imported(node: ast.AST) -> set[str]:
    if isinstance(node, ast.Import):
        return {each.name for each in node.names}
    if isinstance(node, ast.ImportFrom) and node.module and not node.level:
        return {node.module, *(f"{node.module}.{each.name}" for each in node.names)}
    return set()


def prefixes_shared(folder: Path) -> dict[str, list[str]]:
    """Return the first words that several of a folder's files and folders begin with."""
    names = [path.stem for path in folder.glob("*.py") if path.stem != "__init__"]
    names += [path.name for path in folder.iterdir() if (path / "__init__.py").exists()]
    first = Counter(name.partition("_")[0] for name in names)
    return {
        word: sorted(n for n in names if n.partition("_")[0] == word) for word, n in first.items() if n > 1
    }


HOUSE = House(ROOT / "src" / "evenhand")
