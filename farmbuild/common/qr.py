"""The square code (QR code, ISO/IEC 18004) of an address, as a drawing for the page."""

from __future__ import annotations

import segno
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe

#: Modules left white on each side; ISO/IEC 18004 asks for at least four.
QUIET = 4
#: Level M, of which about 15 % may be scratched or dirty (ISO/IEC 18004).
LEVEL = "m"


def code_of(address: str) -> segno.QRCode:
    return segno.make(address, error=LEVEL, micro=False, boost_error=False)


def code_svg(address: str, *, about: str) -> SafeString:
    """Dark on white whatever the colours of the page; no style in it, because the pages forbid that."""
    drawing = code_of(address).svg_inline(border=QUIET, omitsize=True, svgclass="code", lineclass=None, light="#fff")
    return format_html('<div class="code-box" role="img" aria-label="{}">{}</div>', about, mark_safe(drawing))
