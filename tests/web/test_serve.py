"""Serving: ports that are taken, certificates, and a studio that answers over HTTPS."""

from __future__ import annotations

import socket
import ssl
import threading
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
import uvicorn

from evenhand.errors import WrongOptions
from evenhand.web import serving
from evenhand.web.serving import (
    Secured,
    Served,
    WebSettings,
    addresses,
    bind,
    check_certificate,
    fingerprint,
    self_made,
    serve,
)
from tests.desks import make_the_desks_routes_only
from tests.studios import a_studio


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Secured]:
    """Make a studio's certificate, once for these tests."""
    folder = tmp_path_factory.mktemp("studio")
    return folder, self_made(folder, "127.0.0.1")


def test_a_port_that_is_taken_is_said_with_one_that_may_do() -> None:
    with bind("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(WrongOptions, match=rf"port {port}, which another program .* --port {port + 1}"):
            bind("127.0.0.1", port)


def test_a_host_that_is_another_computers_is_refused() -> None:
    """192.0.2.0/24 is for documentation (RFC 5737): no computer has it."""
    with pytest.raises(WrongOptions, match=r"must be an address of this computer"):
        bind("192.0.2.77", 0)


def test_whoever_comes_before_the_server_is_ready_waits_and_is_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    make_the_desks_routes_only(monkeypatch)
    a_studio(tmp_path).close()
    with bind("127.0.0.1", 0) as bound, socket.create_connection(bound.getsockname(), timeout=20) as early:
        host = f"127.0.0.1:{bound.getsockname()[1]}"
        early.sendall(f"GET /health HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n".encode())
        served = Served("127.0.0.1", bound.getsockname()[1], (f"http://{host}",))
        settings = WebSettings(tmp_path / "studio", origins=served.addresses, secure=False, workers=0)
        with _serving(settings, served, bound, monkeypatch):
            assert early.recv(4096).startswith(b"HTTP/1.1 200 OK")


def test_addresses_are_written_as_a_browser_shows_them(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(serving, "own_address", lambda: "192.0.2.7")
    assert addresses("0.0.0.0", 8420, secure=True) == ("https://192.0.2.7:8420", "https://127.0.0.1:8420")  # noqa: S104 - written, not bound
    assert addresses("::1", 80, secure=False) == ("http://[::1]:80",)
    monkeypatch.setattr(serving, "own_address", lambda: None)
    assert addresses("0.0.0.0", 8420, secure=False) == ("http://127.0.0.1:8420",)  # noqa: S104 - the same


def test_a_certificate_is_made_once_and_kept(made: tuple[Path, Secured]) -> None:
    folder, secured = made
    before = secured.certificate.read_bytes()
    assert self_made(folder, "127.0.0.1").certificate.read_bytes() == before
    assert secured.key.stat().st_mode & 0o077 == 0


def test_a_certificate_for_another_network_is_made_anew(
    made: tuple[Path, Secured], monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, secured = made
    before = fingerprint(secured.certificate)
    monkeypatch.setattr(serving, "own_address", lambda: "192.0.2.7")
    self_made(folder, "0.0.0.0")  # noqa: S104 - named, not bound
    assert fingerprint(secured.certificate) != before
    read = ssl.create_default_context(cafile=str(secured.certificate)).get_ca_certs()
    assert ("IP Address", "192.0.2.7") in read[0]["subjectAltName"]


def test_without_openssl_it_says_what_else_will_do(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("evenhand.web.serving.shutil.which", lambda _name: None)
    with pytest.raises(WrongOptions, match=r"without OpenSSL; must be .* --certificate F --key F"):
        self_made(tmp_path, "127.0.0.1")


def test_old_tls_is_not_spoken_and_the_key_is_strong(made: tuple[Path, Secured]) -> None:
    """RFC 8996 ends TLS 1.1 and before; NIST SP 800-57 has 128 bits of strength from RSA 3072 on."""
    config = uvicorn.Config("none", ssl_certfile=made[1].certificate, ssl_keyfile=made[1].key)
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    assert config.ssl_version == ssl.PROTOCOL_TLS_SERVER
    assert context.minimum_version >= ssl.TLSVersion.TLSv1_2
    shown = serving._openssl("x509", "-noout", "-text", "-in", str(made[1].certificate))  # noqa: SLF001 - the same program
    assert b"3072 bit" in shown.stdout


def test_a_certificate_that_is_none_is_refused(made: tuple[Path, Secured], tmp_path: Path) -> None:
    other = tmp_path / "other.pem"
    other.write_text("no certificate")
    with pytest.raises(WrongOptions, match=r"other\.pem with studio\.key"):
        check_certificate(Secured(other, made[1].key))


def test_the_fingerprint_is_the_one_that_openssl_shows(made: tuple[Path, Secured]) -> None:
    """Checked against OpenSSL's own ``x509 -fingerprint``."""
    shown = serving._openssl("x509", "-noout", "-fingerprint", "-sha256", "-in", str(made[1].certificate))  # noqa: SLF001 - the same program, another question
    assert shown.stdout.decode().strip().rpartition("=")[2] == fingerprint(made[1].certificate)


def test_a_studio_answers_over_https_and_its_cookie_goes_no_other_way(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A client that trusts the certificate, and checks the address in it, gets an answer."""
    make_the_desks_routes_only(monkeypatch)
    a_studio(tmp_path).close()
    folder = tmp_path / "studio"
    secured = self_made(folder, "127.0.0.1")
    with bind("127.0.0.1", 0) as bound:
        port = bound.getsockname()[1]
        served = Served("127.0.0.1", port, (f"https://127.0.0.1:{port}",), secured)
        settings = WebSettings(folder, origins=served.addresses, secure=True, workers=0)
        context = ssl.create_default_context(cafile=str(secured.certificate))
        with (
            _serving(settings, served, bound, monkeypatch),
            urllib.request.urlopen(f"https://127.0.0.1:{port}/health", timeout=20, context=context) as answer,
        ):
            assert answer.status == 200
            assert b'"ok"' in answer.read()


@contextmanager
def _serving(
    settings: WebSettings, served: Served, bound: socket.socket, monkeypatch: pytest.MonkeyPatch
) -> Iterator[None]:
    """Serve while the block lasts, and see that it ends."""
    started: list[uvicorn.Server] = []
    monkeypatch.setattr(uvicorn.Server, "run", lambda self, sockets: _run(self, sockets, started))
    thread = threading.Thread(target=serve, args=(settings, served, bound))
    thread.start()
    try:
        yield
    finally:
        if started:
            started[0].should_exit = True
        thread.join(timeout=20)
        assert not thread.is_alive()


def _run(server: uvicorn.Server, sockets: list[socket.socket], started: list[uvicorn.Server]) -> None:
    """Run a server in a thread that is not the main one, which has the signals."""
    import asyncio

    started.append(server)
    asyncio.run(server._serve(sockets))  # noqa: SLF001 - what run() does, without taking the signals
