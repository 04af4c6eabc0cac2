"""What a browser would send for the sheet of readings."""

from __future__ import annotations


def row(hoop: int, height: str = "", span: str = "", down: str = "", up: str = "") -> dict[str, str]:
    parts = {"ridge_height": height, "post_span": span, "down": down, "up": up}
    return {f"hoop_{hoop}_{part}": text for part, text in parts.items()}


def sent(heights: dict[int, str], *, hoops: int = 13, **changes: str) -> dict[str, str]:
    """Readings by hoop; every other row is empty."""
    data = {
        "tolerance": '1/2"',
        "span_tolerance": '1/2"',
        "line": "level",
        "rise": "",
        "room_down": '2"',
        "room_up": '2"',
    }
    for hoop in range(1, hoops + 1):
        data |= row(hoop, heights.get(hoop, ""))
    return data | changes


def text_of(response) -> str:
    """The page in one line, its quotes and unbroken blanks as typed."""
    page = " ".join(response.content.decode().replace("\u00a0", " ").split())
    return page.replace("&quot;", '"').replace("&#x27;", "'")
