"""The stand as something installed: its manifest, the script beside its pages, and a page that needs no more.

Manifest and script are for anyone: they hold the studio's name, which the login shows as well, and nothing of
a student. A device that comes for the first time gets a page with its script and its style in it: each file
more would cost a phone on a slow network half a second. One that has them says so, by the script beside it.
"""

from __future__ import annotations

import gzip
import hashlib
import json
from base64 import b64encode
from typing import Any

from markupsafe import Markup
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, Response

from evenhand.web.assets import BUNDLES, asset, build, content_of
from evenhand.web.guard import content_policy
from evenhand.web.pages import page
from evenhand.web.requests import studio_of

PAPER = "#fbf8f1"  # as palette.css has it
FACES = ("regular", "bold", "italic")
ICONS = {"icon-192.png": "192x192", "icon-512.png": "512x512"}
HAS = "evenhand-has"  # the build whose files a device has already
SCRIPT, STYLE = "on-stand.js", "on-stand.css"
ASKED = {"week", "day"}  # what a page may be asked for by, without repeating a word of it


def manifest(request: Request) -> Response:
    """Say how the stand looks where it is installed (W3C, Web Application Manifest)."""
    name = studio_of(request).facts.name
    icons = [{"src": asset(each), "sizes": size, "type": "image/png"} for each, size in ICONS.items()]
    icons.append({"src": asset("icon.svg"), "sizes": "any", "type": "image/svg+xml"})
    facts = {
        "id": "/stand",
        "name": name,
        "short_name": name[:12].strip(),
        "start_url": "/stand",
        "scope": "/",
        "display": "standalone",
        "background_color": PAPER,
        "theme_color": PAPER,
        "icons": icons,
    }
    return JSONResponse(facts, media_type="application/manifest+json")


def worker(_request: Request) -> Response:
    """Give the script that keeps pages, told which server it is from and what its pages are made of."""
    bundles = [each for each in BUNDLES if each.startswith("on-stand")]
    faces = [f"faces/libertinus-serif-{each}.woff2" for each in FACES]
    shell = [asset(each) for each in ("recorder-worklet.js", *bundles, *faces, "icon.svg")]
    told = f"const BUILD = {json.dumps(build())}, SHELL = {json.dumps(shell)};\n"
    headers = {"Cache-Control": "no-cache", "Service-Worker-Allowed": "/s"}
    content = told.encode() + content_of("stand-worker.js")
    return Response(content, media_type="text/javascript", headers=headers)


def practice_page(request: Request, template: str, **facts: Any) -> Response:  # noqa: ANN401 - as a page's
    """Answer with a page to practise at: with all it needs in it, unless the device has that already."""
    if request.headers.get(HAS) == build():
        return _packed(request, page(request, template, **facts))
    whole = {name: Markup(content_of(name).decode()) for name in (SCRIPT, STYLE)}  # noqa: S704 - files of ours
    answer = page(request, template, whole=whole, **facts)
    digest = b64encode(hashlib.sha256(content_of(SCRIPT)).digest()).decode()
    policy = content_policy(request.app.state.settings.store)
    policy = policy.replace("script-src 'self'", f"script-src 'self' 'sha256-{digest}'")
    answer.headers["Content-Security-Policy"] = policy
    return _packed(request, answer)


def _packed(request: Request, answer: HTMLResponse) -> Response:
    """Make an answer smaller for the way, where its reader takes it so and it repeats nothing that was asked.

    What is secret in a page could else be guessed from the size of one that repeats a stranger's words
    (Gluck, Harris & Prado 2013, BREACH).
    """
    answer.headers["Vary"] = "Accept-Encoding"
    if set(request.query_params) <= ASKED and "gzip" in request.headers.get("accept-encoding", ""):
        answer.body = gzip.compress(bytes(answer.body), 6, mtime=0)
        answer.headers["Content-Encoding"] = "gzip"
        answer.headers["Content-Length"] = str(len(answer.body))
    return answer
