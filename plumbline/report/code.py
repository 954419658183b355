"""An address as a code to scan, on a terminal."""

from __future__ import annotations

import io

__all__ = ["code_on"]


def code_on(address: str) -> str:
    """An address as a QR code in block letters, light on dark as a terminal is, with the quiet edge that a reader needs.

    Reference: ISO/IEC 18004, by the library that writes it.
    """
    import segno

    out = io.StringIO()
    segno.make(address, error="l", micro=False).terminal(out, compact=True, border=2)
    return out.getvalue().rstrip("\n")
