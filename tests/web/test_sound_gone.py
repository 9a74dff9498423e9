"""A recording that is deleted between looking it up and sending it is not found."""

from __future__ import annotations

from pathlib import Path

from starlette.applications import Starlette
from starlette.routing import Route
from starlette.testclient import TestClient

from evenhand.web.requests import KeptFile


def test_a_sound_that_went_meanwhile_is_not_found(tmp_path: Path) -> None:
    kept = tmp_path / "note.wav"
    kept.write_bytes(b"RIFF")
    client = TestClient(Starlette(routes=[Route("/sound", lambda _: KeptFile(kept))]))
    assert client.get("/sound").content == b"RIFF"
    kept.unlink()
    assert client.get("/sound").status_code == 404
