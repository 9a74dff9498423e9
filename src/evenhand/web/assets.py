"""What pages bring with them: a script with all that it imports as one file, named by its content.

Conventions: ``asset("stand.js")`` is the address of a bundle; its content never changes under that address,
so a browser keeps it for a year. The same file is there without a digest, and asked for again each time.
Our modules import by name from a file beside them and export what they define; a bundle puts each in a
function of its own, in the order of their imports. ``BUILD`` names everything that pages are made of.
"""

from __future__ import annotations

import gzip
import hashlib
import re
from functools import cache
from pathlib import Path, PurePosixPath

from starlette.requests import Request
from starlette.responses import Response
from starlette.staticfiles import StaticFiles
from starlette.types import Scope

import evenhand.report

STATIC = Path(__file__).parent / "static"
STYLE = Path(evenhand.report.__file__).parent / "style"  # the style sheets that the report pages have, too
TEMPLATES = Path(__file__).parent / "templates"
BUNDLES = {
    "on-stand.js": ("stand-kept.js", "stand-ahead.js", "stand.js"),
    "on-stand-take.js": ("stand-kept.js", "stand-ahead.js", "stand-take.js", "words.js"),
    "on-model.js": ("stand-kept.js", "stand.js"),  # the teacher records one; nothing of it is kept ahead
    "on-stand-words.js": ("stand-kept.js", "stand-ahead.js", "words.js"),
    "on-stand-else.js": ("stand-kept.js", "stand-ahead.js"),
    "on-stand.css": (
        "palette.css",
        "marks.css",
        "studio.css",
        "heard.css",
        "stand.css",
        "on-air.css",
        "words.css",
    ),
}
KINDS = {".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8", ".woff2": "font/woff2"}
PACKED = {".js", ".css"}
FOR_A_YEAR = "public, max-age=31536000, immutable"
DIGEST_LENGTH = 12

_IMPORT = re.compile(r'^import (?:\{([^}]*)\} from )?"\./([\w-]+\.js)";\n', re.MULTILINE)
_EXPORT = re.compile(r"^export ((?:async )?function|class|const) (\w+)", re.MULTILINE)
_REMARK = re.compile(r"^ *(//.*|/\*\*.*\*/)\n", re.MULTILINE)  # a line that is nothing else
_NAMED = re.compile(r"(.+)\.([0-9a-f]{12})(\.\w+)")
_OURS = re.compile(r'(?<=")/static/([\w/.-]+)(?=")')
_FACE = re.compile(r"(?<=url\()faces/[\w.-]+(?=\))")


@cache
def asset(name: str) -> str:
    """Return the address of a file, or of a bundle, with the digest of its content."""
    path = PurePosixPath(name)
    digest = hashlib.sha256(content_of(name)).hexdigest()[:DIGEST_LENGTH]
    return f"/static/{path.with_name(f'{path.stem}.{digest}{path.suffix}')}"


@cache
def content_of(name: str) -> bytes:
    """Return what lies under a name: a bundle where there is something to put together, else the file.

    Raises
    ------
    FileNotFoundError
        There is no such file.
    ValueError
        A module imports or exports in a way that a bundle does not know.
    """
    if name.endswith(".js"):
        return _bundle(BUNDLES.get(name, (name,)))
    if name.endswith(".css"):
        text = "\n".join(_text(each) for each in BUNDLES.get(name, (name,)))
        return _FACE.sub(lambda found: asset(found[0]), text).encode()
    return _path(name).read_bytes()


def _bundle(entries: tuple[str, ...]) -> bytes:
    """Put modules together with all that they import; each runs once, what it imports before it."""
    put: dict[str, str] = {}
    for entry in entries:
        _put(entry, put, ())
    whole = _REMARK.sub("", "".join(put.values()))
    return _OURS.sub(lambda found: asset(found[1]), whole).encode()


def _put(name: str, put: dict[str, str], importing: tuple[str, ...]) -> None:
    if name in importing:
        raise ValueError(f"{name} imports itself by way of {', '.join(importing)}")
    if name in put:
        return
    text = _text(name)
    for _, other in _IMPORT.findall(text):
        _put(other, put, (*importing, name))
    put[name] = _in_a_function(name, text) if _is_module(text) else text


def _is_module(text: str) -> bool:
    return re.search(r"^(import|export)\b", text, re.MULTILINE) is not None


def _in_a_function(name: str, text: str) -> str:
    exported = [each for _, each in _EXPORT.findall(text)]
    body = _EXPORT.sub(r"\1 \2", _IMPORT.sub(_taken, text))
    if left := re.search(r"^(import|export)\b.*", body, re.MULTILINE):
        raise ValueError(f"{name}: a bundle cannot take {left[0]!r}")
    given = f"return {{ {', '.join(exported)} }};\n" if exported else ""
    return f"const {_own(name)} = (() => {{\n{body}{given}}})();\n"


def _taken(found: re.Match[str]) -> str:
    """Write an import as taking names from another module's function."""
    names, other = found[1], found[2]
    if not names:
        return ""
    wanted = [each.strip().split(" as ") for each in names.split(",") if each.strip()]
    exported = {each for _, each in _EXPORT.findall(_text(other))}
    if missing := {each[0] for each in wanted} - exported:
        raise ValueError(f"{other} does not export {', '.join(sorted(missing))} by a line of its own")
    return f"const {{ {', '.join(': '.join(each) for each in wanted)} }} = {_own(other)};\n"


def _own(name: str) -> str:
    return f"in_{name.removesuffix('.js').replace('-', '_')}"


def _text(name: str) -> str:
    return _path(name).read_text(encoding="utf-8")


def _path(name: str) -> Path:
    return next((folder / name for folder in (STATIC, STYLE) if (folder / name).is_file()), STATIC / name)


@cache
def build() -> str:
    """Name what all pages are made of here: another server's pages may be made of something else."""
    whole = hashlib.sha256()
    for folder in (STATIC, STYLE, TEMPLATES):
        for path in sorted(each for each in folder.rglob("*") if each.is_file()):
            whole.update(path.name.encode() + b"\0" + path.read_bytes())
    return whole.hexdigest()[:DIGEST_LENGTH]


@cache
def _small(name: str) -> bytes:
    return gzip.compress(content_of(name), 9, mtime=0)


class Assets(StaticFiles):
    """The files under /static, with and without a digest."""

    async def get_response(self, path: str, scope: Scope) -> Response:
        """Answer with a bundle under its digest, else with the file as it lies there."""
        named = _NAMED.fullmatch(path)
        name = f"{named[1]}{named[3]}" if named else ""
        if named is None or named[3] not in KINDS or asset_or_none(name) != f"/static/{path}":
            answer = await super().get_response(name or path, scope)
            answer.headers["Cache-Control"] = "no-cache"
            return answer
        small = named[3] in PACKED and "gzip" in Request(scope).headers.get("accept-encoding", "")
        headers = {"Cache-Control": FOR_A_YEAR, "Vary": "Accept-Encoding"}
        if small:
            headers["Content-Encoding"] = "gzip"
        content = _small(name) if small else content_of(name)
        return Response(content, media_type=KINDS[named[3]], headers=headers)


def asset_or_none(name: str) -> str | None:
    """Return a file's address with its digest; None where there is no such file."""
    try:
        return asset(name)
    except (OSError, ValueError):
        return None
