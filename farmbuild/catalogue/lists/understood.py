"""A list as it stands now, against the offers as they stand now."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils.translation import gettext

from farmbuild.catalogue.lists.changes import GONE, Change, compare, put_together
from farmbuild.catalogue.lists.columns import Columns
from farmbuild.catalogue.lists.rows import (
    LEFT,
    NO_PRICE,
    UNKNOWN,
    WRONG,
    Known,
    ListRow,
    Terms,
    heading_problem,
    read_rows,
)
from farmbuild.catalogue.lists.settings import columns_of, terms_of
from farmbuild.catalogue.models import Offer, PriceList, Supplier
from farmbuild.catalogue.selectors import materials_in_use, materials_of, offers_of
from farmbuild.orgs.models import Organisation


@dataclass
class Understood:
    """``problem``: of the whole list, "" where there is none."""

    columns: Columns
    terms: Terms
    rows: list[ListRow]
    changes: list[Change]
    problem: str = ""

    def of(self, *states: str) -> list[ListRow]:
        return [row for row in self.rows if row.state in states]

    def kind(self, kind: str) -> list[Change]:
        return [change for change in self.changes if change.kind == kind]

    @property
    def far(self) -> list[Change]:
        return [change for change in self.changes if change.far]

    @property
    def gone(self) -> list[Change]:
        return self.kind(GONE)

    @property
    def ready(self) -> bool:
        return not (self.problem or self.of(WRONG, UNKNOWN)) and any(change.listed for change in self.changes)


def known_of(organisation: Organisation, supplier: Supplier, offers: Sequence[Offer] | None = None) -> Known:
    found = offers_of(organisation=organisation, supplier=supplier) if offers is None else offers
    return Known.of(organisation, materials_in_use(materials_of(organisation=organisation)), found)


def understand(*, organisation: Organisation, price_list: PriceList, today: date) -> Understood:
    """What the list says as it stands now, against the offers as they stand now; a fixed number of queries."""
    supplier = price_list.supplier
    offers = list(offers_of(organisation=organisation, supplier=supplier))
    known = known_of(organisation, supplier, offers)
    columns, terms = columns_of(price_list), terms_of(price_list, organisation, today)
    rows = price_list.sheets[price_list.said.get("sheet", 0)]["rows"]
    read = read_rows(rows, columns, terms, known, price_list.choices)
    listed = put_together(read, terms)
    left_out = [row for row in read if row.state == LEFT]
    changes = compare(listed, offers, since=terms.since, left_out=left_out)
    own, then = organisation.currency, price_list.said.get("currency", organisation.currency)
    problem = (
        _problem(columns, terms, read, organisation, today)
        if own == then
        else gettext("This list was read when your prices were in %(then)s; they are in %(own)s now. Send it again.")
        % {"then": then, "own": own}
    )
    return Understood(columns, terms, read, changes, problem)


def _problem(columns: Columns, terms: Terms, rows: Sequence[ListRow], organisation: Organisation, today: date) -> str:
    if not any(columns.prices()):
        return gettext("Say which column has the price.")
    if all(columns.at(role) is None for role in ("code", "our", "name")):
        return gettext("Say which column tells what it is: a name, an item number or your short name.")
    if found := heading_problem(columns, organisation):
        return found
    if terms.since > today:
        return gettext(
            "This list holds from %(isoformat)s. It is kept here: take it over on that day, and until then the "
            "prices that you have hold."
        ) % {"isoformat": terms.since.isoformat()}
    if not rows:
        return gettext("There are no rows under the headings.")
    return (
        ""
        if any(row.state not in (LEFT, NO_PRICE) for row in rows)
        else gettext("Every row is left out, so nothing is read.")
    )


def without_lead(found: Understood) -> int:
    """How many offers of the list will have no lead time."""
    return sum(change.listed.lead_days is None for change in found.changes if change.listed)
