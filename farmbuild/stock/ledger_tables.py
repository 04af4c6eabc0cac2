"""Tables of movements: the whole ledger, one lot's history, and loans that are out."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.tables import FIGURE, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.common.templatetags.farm import day, moment
from farmbuild.measure import format_money, format_signed
from farmbuild.orgs.clock import today
from farmbuild.stock.models import CostShare, Movement, Repricing


def signed(quantity: int) -> str:
    return format_signed(quantity)


def who(user: Any) -> str:
    return user.display_name if user else gettext("not known")


def what(movement: Movement) -> str:
    """Issued; Issued, reversed."""
    kind = movement.get_kind_display()
    return gettext("%(kind)s, reversed") % {"kind": kind} if movement.reverses_id else kind


def why(movement: Movement) -> str:
    """The reason with the house and the borrower it names."""
    told = [
        gettext("for %(house)s") % {"house": movement.house} if movement.house else "",
        movement.borrower,
        movement.reason,
    ]
    return ", ".join(filter(None, told))


class _MovementTable(FarmTable):
    at = tables.Column(gettext_lazy("When"))
    kind = tables.Column(gettext_lazy("What"))
    quantity = tables.Column(gettext_lazy("Pieces"), attrs=FIGURE)
    amount = MoneyColumn(verbose_name=gettext_lazy("Value"))
    by = tables.Column(gettext_lazy("Who"), default="")
    reason = tables.Column(gettext_lazy("Why"), empty_values=())
    paper = tables.Column(gettext_lazy("Paper"), default="")

    def row_link(self, record: Any) -> str:
        return reverse("stock:movement", args=[record.pk])

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_kind(self, record: Movement) -> str:
        return what(record)

    def render_quantity(self, value: int) -> str:
        return signed(value)

    def render_by(self, value: Any) -> str:
        return who(value)

    def render_reason(self, record: Movement) -> str:
        return why(record)


class HistoryTable(_MovementTable):
    """One lot's movements with the count after each."""

    phone = (("kind", "quantity"), ("running", "at", "reason"))

    running = QuantityColumn(verbose_name=gettext_lazy("Left then"))

    class Meta:
        model = Movement
        fields = ("at", "kind", "quantity", "running", "amount", "by", "reason", "paper")
        orderable = False
        empty_text = gettext_lazy("No movements.")


class LedgerTable(_MovementTable):
    phone = (("material", "quantity"), ("kind", "at", "lot"))

    material = tables.Column(gettext_lazy("Material"), accessor="lot__material")
    lot = tables.Column(gettext_lazy("Lot and place"))

    class Meta:
        model = Movement
        fields = ("at", "kind", "quantity", "material", "lot", "amount", "by", "reason", "paper")
        orderable = False
        empty_text = gettext_lazy("No movements here.")

    def render_lot(self, record: Movement) -> str:
        return f"{record.lot}, {record.lot.place}"


class RepricingTable(FarmTable):
    """When a lot was given another price, and why."""

    phone = (("at", "amount"), ("new_cost", "reason"))
    phone_words = {"amount": "", "new_cost": "", "reason": ""}

    at = tables.Column(gettext_lazy("When"))
    new_cost = tables.Column(gettext_lazy("Cost of one"))
    amount = MoneyColumn(verbose_name=gettext_lazy("Change of the value"))
    reason = tables.Column(gettext_lazy("Who and why"))

    class Meta:
        model = Repricing
        fields = ("at", "new_cost", "amount", "reason")
        orderable = False
        empty_text = gettext_lazy("Its price was never changed.")

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_new_cost(self, record: Repricing) -> str:
        before, then = (format_money(cost, self.organisation.currency) for cost in (record.old_cost, record.new_cost))
        return (
            gettext("%(before)s to %(then)s") % {"before": before, "then": then}
            if record.old_cost != record.new_cost
            else then
        )

    def render_reason(self, record: Repricing) -> str:
        return f"{who(record.by)}: {record.reason}"


class ShareTable(FarmTable):
    """Who bears what a movement cost."""

    house = tables.Column(gettext_lazy("For whom"), empty_values=())
    quantity = QuantityColumn(verbose_name=gettext_lazy("Pieces"))
    amount = MoneyColumn(verbose_name=gettext_lazy("Cost"))

    class Meta:
        model = CostShare
        fields = ("house", "quantity", "amount")
        orderable = False
        empty_text = gettext_lazy("Nobody.")

    def render_house(self, record: CostShare) -> str:
        if record.job:
            return gettext("%(job)s, as a whole") % {"job": record.job}
        return str(record.house) if record.house else "no house: general expense"


class LoanTable(FarmTable):
    phone = (("borrower", "out"), ("back_on", "material"))
    phone_words = {"back_on": gettext_lazy("Back by")}

    borrower = tables.Column(gettext_lazy("Who has them"))
    out = QuantityColumn(verbose_name=gettext_lazy("Still out"))
    material = tables.Column(gettext_lazy("Material"), accessor="lot__material")
    lot = tables.Column(gettext_lazy("Lot"))
    at = tables.Column(gettext_lazy("Since"))
    back_on = tables.Column(gettext_lazy("Back by"), default="")
    by = tables.Column(gettext_lazy("Lent by"), default="")

    class Meta:
        model = Movement
        fields = ("borrower", "out", "material", "lot", "at", "back_on", "by")
        orderable = False
        empty_text = gettext_lazy("Nothing is lent.")

    def row_link(self, record: Any) -> str:
        return reverse("stock:movement", args=[record.pk])

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_back_on(self, value: Any) -> str:
        return gettext("%(day)s, late") % {"day": day(value)} if value < today() else day(value)

    def render_by(self, value: Any) -> str:
        return who(value)
