"""What houses, lots and lines of orders are called on sheets."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping

from farmbuild.planning.inputs import Season


def house_names(season: Season) -> Mapping[str, str]:
    """By ref: the name of the house, with its site where two houses share it, and its ref where that is not enough."""
    sites = {site.code: site.name for site in season.sites}
    names = {house.ref: house.name for house in season.houses}
    longer = {house.ref: f"{house.name}, {sites.get(house.site, house.site)}" for house in season.houses}
    longest = {house.ref: f"{longer[house.ref]}, {house.ref}" for house in season.houses}
    for fuller in (longer, longest):
        counts = Counter(names.values())
        names = {ref: fuller[ref] if counts[name] > 1 else name for ref, name in names.items()}
    return names


#: What is on its way stands among the lots of a season under the name of its order line: order 7-1 line 3.
ON_ORDER = "order "


#: Common stock of a cooperative stands among them too: common stock of Valley Farms, lot L-0001.
IN_COMMON = "common stock of "


def common_ref(cooperative: str, lot: str) -> str:
    return f"{IN_COMMON}{cooperative}, lot {lot}"


def is_in_common(ref: str) -> bool:
    """Whether a lot of a season is common stock of a cooperative."""
    return ref.startswith(IN_COMMON)


def is_on_order(ref: str) -> bool:
    """Whether a lot of a season is the line of an order that is still to come."""
    return ref.startswith(ON_ORDER)


def lot_name(ref: str) -> str:
    """lot L-0001, order 7-1 line 3, or common stock of Valley Farms, lot L-0001."""
    return ref if ref.startswith((ON_ORDER, IN_COMMON)) else f"lot {ref}"
