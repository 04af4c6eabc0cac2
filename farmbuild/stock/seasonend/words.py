"""What a lot would serve, in words."""

from __future__ import annotations

from farmbuild.common.templatetags.farm import length_plain
from farmbuild.orgs.models import Organisation
from farmbuild.stock.seasonend.bridge import Part, Serving
from farmbuild.stock.seasonend.selectors import Spare
from farmbuild.stock.words import so_many

NONE = "none"


def serves(serving: Serving | None, organisation: Organisation) -> str:
    """North 3: 12 for hoops; Creek 2: 4 of 2' (610 mm) for ground posts."""
    if serving is None:
        return NONE
    by_house: dict[str, list[str]] = {}
    for part in serving.parts:
        by_house.setdefault(part.house, []).append(_part(part, organisation))
    return "; ".join(f"{house}: {', '.join(parts)}" for house, parts in by_house.items())


def _part(part: Part, organisation: Organisation) -> str:
    size = "" if part.length is None else f" of {length_plain(part.length, organisation)}"
    return f"{part.pieces:,}{size} for {part.purpose}"


def spare_words(spare: Spare, organisation: Organisation) -> str:
    """3 offcuts of 1-3/8 rail, 1' 2" (356 mm), lot L-0012 at Rack 1."""
    lot = spare.lot
    what = so_many(spare.pieces, "offcut")
    return f"{what} of {lot.material}, {length_plain(lot.length, organisation)}, lot {lot} at {lot.place}"
