"""Where somebody who signs in begins: at the day, the stock or the houses, as their work is."""

from __future__ import annotations

from collections.abc import Collection

from farmbuild.orgs.acts import Act

HOUSES, STOCK, DAY = "sites:houses", "stock:lots", "crew:day"


def landing_of(acts: Collection[Act]) -> str:
    """The name of an address that these acts open; that of the houses where there are none."""
    if Act.SEE in acts:
        return STOCK if Act.STOCK in acts and Act.PLAN not in acts else HOUSES
    if Act.RECORD in acts:
        return DAY
    return STOCK if Act.STOCK in acts else HOUSES
