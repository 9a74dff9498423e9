"""The stand as something installed: its manifest, and the script that works beside its pages.

Both are for anyone: they hold the studio's name, which the login shows as well, and nothing of a student.
"""

from __future__ import annotations

import json

from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from evenhand.web.assets import BUNDLES, asset, build, content_of
from evenhand.web.requests import studio_of

PAPER, INK = "#fbf8f1", "#1f2b4d"  # as palette.css has them
FACES = ("regular", "bold", "italic")
ICONS = ("icon-192.png", "icon-512.png")


def manifest(request: Request) -> Response:
    """Say how the stand looks where it is installed (W3C, Web Application Manifest)."""
    name = studio_of(request).facts.name
    icons = [
        {"src": asset(each), "sizes": f"{each[5:8]}x{each[5:8]}", "type": "image/png", "purpose": "any"}
        for each in ICONS
    ]
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
    return Response(
        told.encode() + content_of("stand-worker.js"), media_type="text/javascript", headers=headers
    )
