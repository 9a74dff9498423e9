"""The stand as something installed: its manifest, its worker, and what its pages are put together from."""

from __future__ import annotations

import json
import re
from base64 import b64encode
from hashlib import sha256
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from evenhand.web import assets
from evenhand.web.assets import BUNDLES, FOR_A_YEAR, STATIC, TEMPLATES, asset, build, content_of
from tests.web.stands import a_recording, a_stand, assign, yesterday
from tests.web.walked import House

ASKED = re.compile(r"""asset\(['"]([^'"]+)['"]""")
NAMED = sorted({name for page in TEMPLATES.glob("*.html") for name in ASKED.findall(page.read_text("utf-8"))})


@pytest.mark.parametrize("name", NAMED)
def test_what_a_page_asks_for_is_there_and_stays_what_it_is(house: House, name: str) -> None:
    """And each module once, whatever imports it; smaller on the way."""
    answer = house.client().get(asset(name), headers={"accept-encoding": "gzip"})
    assert answer.status_code == 200
    assert answer.content == content_of(name)
    if not name.endswith((".svg", ".png")):
        assert answer.headers["cache-control"] == FOR_A_YEAR
    if name in BUNDLES and name.endswith(".js"):
        text = answer.text
        assert answer.headers["content-encoding"] == "gzip"
        assert not re.search(r"^(import|export)\b", text, re.MULTILINE)
        assert text.count("const in_stand_page = (() => {") == 1
        assert text.index("const in_keep = ") < text.index("const in_stand_kept = ")


def test_a_bundle_takes_no_module_that_it_would_take_wrongly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(assets, "STATIC", tmp_path)
    (tmp_path / "given.js").write_text("export const one = 1, two = 2;\n", "utf-8")
    (tmp_path / "round.js").write_text('import "./round.js";\n', "utf-8")
    for text, words in (
        ('import { two } from "./given.js";\n', "does not export two"),
        ('import * as all from "./round.js";\n', "cannot take"),
        ('import "./round.js";\n', "imports itself"),
        ("export default 1;\n", "cannot take 'export default"),
    ):
        (tmp_path / "asking.js").write_text(text, "utf-8")
        content_of.cache_clear()
        with pytest.raises(ValueError, match=words):
            content_of("asking.js")
    content_of.cache_clear()


def test_an_older_pages_script_leads_to_the_newest(house: House) -> None:
    older = house.client().get("/static/stand.000000000000.js")
    assert (older.status_code, older.headers["cache-control"]) == (200, "no-cache")
    assert older.content == (STATIC / "stand.js").read_bytes()
    assert house.client().get("/static/none.000000000000.js").status_code == 404


def test_the_manifest_and_the_worker_name_what_there_is(house: House) -> None:
    client = house.client()
    manifest = client.get("/stand.webmanifest").json()
    assert (manifest["start_url"], manifest["display"]) == ("/stand", "standalone")
    sizes = {"192x192": (192,), "512x512": (512,)}
    for icon in manifest["icons"]:
        content = client.get(icon["src"]).content
        if icon["type"] == "image/png":  # width and height stand in the first chunk (PNG, 11.2.2)
            assert int.from_bytes(content[16:20], "big") == sizes[icon["sizes"]][0]
    script = client.get("/stand-worker.js")
    assert script.headers["cache-control"] == "no-cache"
    shell = json.loads(script.text.partition("SHELL = ")[2].partition(";\n")[0])
    assert [client.get(path).status_code for path in shell] == [200] * len(shell)
    page = house.client("student").get("/stand").text
    needed = re.findall(r'(?:src|href)="(/static/[^"]+\.(?:js|css|woff2))"', page)
    assert needed
    assert set(needed) <= set(shell)
    assert house.una.name not in script.text + json.dumps(manifest)


def whose(client: TestClient, path: str) -> str | None:
    answer: str | None = client.get(path).headers.get("evenhand-whose")
    return answer


def test_pages_say_whose_they_are_and_each_session_is_somebody_else(house: House) -> None:
    client, again, other = (house.client("student", each) for each in (house.ida, house.ida, house.una))
    first = whose(client, "/stand")
    assert first
    assert whose(client, "/stand/takes") == first
    assert len({first, whose(again, "/stand"), whose(other, "/stand")}) == 3
    assert whose(client, "/stand/today.json") is None
    assert whose(house.client("teacher"), "/") is None
    assert client.get("/stand").headers["evenhand-build"] == build()


def test_a_page_that_repeats_what_was_asked_is_not_packed(house: House) -> None:
    client = house.client("student")
    for path in ("/stand?exercise=1%2F8%3A+RL", "/stand/practice/0?exercise=1%2F8%3A+RL"):
        answer = client.get(path, headers={"accept-encoding": "gzip"})
        assert answer.status_code == 200
        assert "content-encoding" not in answer.headers


def test_a_first_page_has_its_script_in_it_and_no_other_runs(tmp_path: Path) -> None:
    """The policy names the script by its digest (CSP 3, 6.7.2); the next page asks for it."""
    with a_stand(tmp_path) as stand:
        assign(stand, yesterday())
        first = stand.client.get("/stand", headers={"accept-encoding": "gzip"})
        (script,) = re.findall(r'<script type="module">(.*?)</script>', first.text, re.DOTALL)
        digest = b64encode(sha256(script.encode()).digest()).decode()
        allowed = re.search(r"script-src ([^;]*);", first.headers["content-security-policy"])
        assert allowed
        assert allowed[1] == f"'self' 'sha256-{digest}'"
        assert first.headers["content-encoding"] == "gzip"
        assert '<link rel="stylesheet"' not in first.text
        later = stand.client.get("/stand", headers={"evenhand-has": build()})
        assert asset("on-stand.js") in later.text
        assert '<script type="module">' not in later.text
        assert "sha256" not in later.headers["content-security-policy"]


def test_what_an_older_page_sends_is_taken(tmp_path: Path) -> None:
    """A take that waited on a device, with the fields of the first page there was, and one of none."""
    with a_stand(tmp_path) as stand:
        older = {
            "source": "microphone",
            "click": "off",
            "of_another_time": "yes",
            "processed": "none,of,these",
        }
        assert stand.send(a_recording(4), **older).status_code == 202
        assert stand.send(a_recording(4), **older).status_code == 200
        assert "processed" not in stand.only_take().facts
        stand.send(a_recording(4), key="9" * 20, source="microphone", processed="gain,noise")
        (take,) = [each for each in stand.studio.takes.all(stand.student.id) if each.upload_key == "9" * 20]
        assert take.facts["processed"] == "noise,gain"
        shown = stand.as_teacher().get(f"/takes/{take.id}").text
        assert "(noise suppression, automatic level)" in shown
