"""What ``evenhand serve`` says of reaching the studio."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from evenhand.web.serving import Served

FOR_PHONES = (
    "  For phones, too: evenhand serve --host 0.0.0.0 --self-made-certificate\n"
    "  That shows an address and a code for the phone's camera."
)
NO_MICROPHONE = (
    "  Careful: without HTTPS a browser gives no microphone to a page from another computer, and\n"
    "  whoever is on this network can read along. Students can still send recordings as files.\n"
    "  Better: end this, and begin again with --self-made-certificate added."
)
TRUST = (
    "  The certificate is made here, so a browser warns once on each device. Go on only if it shows\n"
    "  this SHA-256 fingerprint:\n  {first}\n  {second}"
)


def warning(served: Served) -> str:
    """Say what a phone needs, or what to beware of."""
    if served.proxies:
        return "  Behind a proxy: hand out its address, which must be HTTPS."
    if served.is_local and served.secured is None:
        return FOR_PHONES
    if served.secured is None:
        return NO_MICROPHONE
    from evenhand.web.serving import fingerprint

    said = fingerprint(served.secured.certificate)
    return TRUST.format(first=said[: len(said) // 2], second=said[len(said) // 2 + 1 :])


def code(address: str) -> str:
    """Draw an address as a QR code for the terminal, two rows to a line."""
    import io

    import segno

    out = io.StringIO()
    segno.make_qr(address, error="m").terminal(out, border=2, compact=True)
    return out.getvalue()
