"""Compare counts and values of lots with their movements, cuts with their pieces, costs with who bears them, holds."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.db import transaction

from farmbuild.buying.reserving.selectors import reservation_differences
from farmbuild.measure import format_count, format_money
from farmbuild.stock.cost_selectors import unequal_worth, unshared_movements, wrong_values
from farmbuild.stock.ledger_selectors import differences, unequal_cuts
from farmbuild.stock.models import Cut, Lot, Movement, Reservation


class Command(BaseCommand):
    help = "Compare the count of every lot with its movements, and what is held with its holds. Changes nothing."

    def handle(self, *args: Any, **options: Any) -> None:
        with transaction.atomic():
            lots, movements, cuts = Lot.objects.count(), Movement.objects.count(), Cut.objects.count()
            holds = Reservation.objects.count()
            wrong = 0
            for found in differences():
                wrong += 1
                self.stdout.write(
                    f"{found.lot.organisation}, lot {found.lot}: {format_count(found.on_hand)} on hand,"
                    f" {format_count(found.summed)} by its movements."
                )
            for held in reservation_differences():
                wrong += 1
                self.stdout.write(
                    f"{_name(held.what)}: {format_count(held.reserved)} held by its count,"
                    f" {format_count(held.summed)} by its holds, of"
                    f" {format_count(held.there)}."
                )
            for cut in unequal_cuts():
                wrong += 1
                self.stdout.write(f"Cut {cut.pk} of lot {cut.lot}: its pieces do not add up to what was cut.")
            for line in _wrong_costs():
                wrong += 1
                self.stdout.write(line)
        if wrong:
            raise CommandError(
                f"{format_count(wrong)} of {format_count(lots)} lots and {format_count(cuts)} cuts do not add up."
            )
        self.stdout.write(
            f"{format_count(lots)} lots agree with the sum of their {format_count(movements)}"
            f" movements, and {format_count(cuts)} cuts with their pieces."
        )
        self.stdout.write("Every lot is worth what its ledger adds up to, and every movement is borne whole.")
        self.stdout.write(f"{format_count(holds)} holds are what lots and order lines count as held.")


def _wrong_costs() -> Iterator[str]:
    for lot in wrong_values():
        currency = lot.organisation.currency
        said, summed = (format_money(amount, currency) for amount in (lot.value, lot.summed))
        yield f"{lot.organisation}, lot {lot}: worth {said}, {summed} by its ledger."
    for movement in unshared_movements():
        organisation = movement.lot.organisation
        yield f"{organisation}, {movement} of lot {movement.lot}: what it cost is not borne whole."
    for cut in unequal_worth():
        yield f"Cut {cut.pk} of lot {cut.lot}: its pieces are not worth what was cut."


def _name(what: Any) -> str:
    if isinstance(what, Lot):
        return f"{what.organisation}, lot {what}"
    return f"{what.order.organisation}, order {what}"
