"""What a lot would serve, in words."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext

from farmbuild.common.speaking import said, said_count
from farmbuild.common.templatetags.farm import length_plain
from farmbuild.measure import format_count
from farmbuild.measure.speech import gettext_noop
from farmbuild.orgs.models import Organisation
from farmbuild.plans.seasonend.bridge import Part, Serving
from farmbuild.plans.seasonend.selectors import Spare

NONE = gettext_noop("none")


def serves(serving: Serving | None, organisation: Organisation) -> str:
    """North 3: 12 for hoops; Creek 2: 4 of 2' (610 mm) for ground posts."""
    if serving is None:
        return gettext(NONE)
    by_house: dict[str, dict[str, list[Part]]] = {}
    for part in serving.parts:
        by_house.setdefault(part.house, {}).setdefault(part.purpose, []).append(part)
    return "; ".join(
        f"{house}: {', '.join(_for_purpose(parts, organisation) for parts in purposes.values())}"
        for house, purposes in by_house.items()
    )


def _for_purpose(parts: Sequence[Part], organisation: Organisation) -> str:
    """Pieces for one purpose, with their length where they have one in common."""
    lengths = {part.length for part in parts}
    common = parts[0].length if len(lengths) == 1 else None
    words = {"pieces": format_count(sum(part.pieces for part in parts)), "purpose": said(parts[0].purpose)}
    if common is None:
        return gettext("%(pieces)s for %(purpose)s") % words
    words["length"] = length_plain(common, organisation)
    return gettext("%(pieces)s of %(length)s for %(purpose)s") % words


def spare_words(spare: Spare, organisation: Organisation) -> str:
    """3 offcuts of 1-3/8 rail, 1' 2" (356 mm), lot L-0012 at Rack 1."""
    lot = spare.lot
    return gettext("%(offcuts)s of %(material)s, %(length)s, lot %(lot)s at %(place)s") % {
        "offcuts": said_count(spare.pieces, "offcut"),
        "material": lot.material,
        "length": length_plain(lot.length, organisation),
        "lot": lot,
        "place": lot.place,
    }
