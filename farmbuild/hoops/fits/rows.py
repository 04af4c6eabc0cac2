"""One row a hoop as measured, and what is wrong with a row, by the form's field."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.utils.translation import gettext

from farmbuild.common.lengths import length_text
from farmbuild.measure.speech import gettext_noop

PARTS = ("post_span", "ridge_height", "down", "up")
_BELOW_ZERO = {
    "down": gettext_noop("Room to go down cannot be below zero. Type 0 where there is none."),
    "up": gettext_noop("Room to go up cannot be below zero. Type 0 where there is none."),
}
#: A post span further than this from the one wanted, as a share of it, is a slip of the unit or of the tape.
_SPAN_SHARE = Decimal("0.5")


@dataclass(frozen=True)
class Reading:
    """Lengths in mm; None where nothing was measured. ``down`` and ``up`` are the room that the posts leave."""

    hoop: int
    ridge_height: Decimal | None
    post_span: Decimal | None = None
    down: Decimal = Decimal(0)
    up: Decimal = Decimal(0)


def field_name(hoop: int, part: str) -> str:
    return f"hoop_{hoop}_{part}"


def row_problems(
    readings: Iterable[Reading], *, hoops: int, post_span: Decimal, socket_depth: Decimal, units: str
) -> dict[str, list[str]]:
    """Sentences by field name; empty when every row can be stored. ``socket_depth`` is 0 where no spec says it."""
    found: dict[str, list[str]] = {}
    seen: set[int] = set()
    for row in readings:
        if not 1 <= row.hoop <= hoops:
            found.setdefault("__all__", []).append(
                gettext("There is no hoop %(hoop)s: the house has %(hoops)s.") % {"hoop": row.hoop, "hoops": hoops}
            )
            continue
        if row.hoop in seen:
            found.setdefault("__all__", []).append(
                gettext("Hoop %(hoop)s is there twice. Give each hoop once.") % {"hoop": row.hoop}
            )
        seen.add(row.hoop)
        for part, sentence in _wrong_in(row, post_span, socket_depth, units):
            found.setdefault(field_name(row.hoop, part), []).append(sentence)
    return found


def _wrong_in(row: Reading, wanted: Decimal, socket_depth: Decimal, units: str) -> Iterable[tuple[str, str]]:
    if row.ridge_height is None:
        yield (
            "ridge_height",
            gettext("Type the ridge height of hoop %(hoop)s, or empty the whole row.") % {"hoop": row.hoop},
        )
    elif row.ridge_height <= 0:
        yield "ridge_height", gettext("Type a height above zero, measured up from the level line.")
    if row.post_span is not None and abs(row.post_span - wanted) > wanted * _SPAN_SHARE:
        yield (
            "post_span",
            gettext("%(post_span)s is far from the %(wanted)s of the house. Measure again, and type the unit with it.")
            % {"post_span": length_text(row.post_span, units), "wanted": length_text(wanted, units)},
        )
    for part in ("down", "up"):
        if getattr(row, part) < 0:
            yield part, gettext(_BELOW_ZERO[part])
    if 0 < socket_depth <= row.up:
        yield (
            "up",
            gettext(
                "The hoop stands %(socket_depth)s deep, so it leaves its post before it is %(up)s up. "
                "Type less than %(socket_depth)s."
            )
            % {"socket_depth": length_text(socket_depth, units), "up": length_text(row.up, units)},
        )
