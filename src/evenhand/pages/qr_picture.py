"""An address as a QR code: a picture of black squares, with its words."""

from __future__ import annotations

from evenhand.errors import UnprintableText

_ERROR_LEVEL = "m"  # a seventh of it may be hidden by a fold or a stain


def qr_picture(address: str) -> str:
    """Return the code as SVG, one unit a module. Leave four modules of white paper around it (ISO/IEC 18004).

    Raises
    ------
    UnprintableText
        Where the address is too long for a code.
    """
    import segno

    try:
        code = segno.make_qr(address, error=_ERROR_LEVEL, boost_error=False)
    except segno.DataOverflowError as error:
        got = f"an address of {len(address):,} characters is too long for a QR code"
        raise UnprintableText(got=got) from error
    rows = tuple(tuple(row) for row in code.matrix)
    side = len(rows)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {side} {side}" shape-rendering="crispEdges">'
        f'<path d="{_runs(rows)}"/></svg>'
    )


def _runs(rows: tuple[tuple[int, ...], ...]) -> str:
    """Draw each run of dark modules in a row as one rectangle."""
    out: list[str] = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            start = x
            while x < len(row) and row[x]:
                x += 1
            if x > start:
                out.append(f"M{start} {y}h{x - start}v1h-{x - start}z")
            x += 1
    return "".join(out)
