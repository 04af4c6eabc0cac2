"""Tables of cost against quote."""

from __future__ import annotations

import django_tables2 as tables
from django.utils.translation import gettext_lazy

from farmbuild.common.tables import FarmTable, MoneyColumn, QuantityColumn


class CauseTable(FarmTable):
    phone = (("what", "amount"), ())
    phone_words = {"amount": ""}

    what = tables.Column(gettext_lazy("Cause"), orderable=False)
    amount = MoneyColumn(verbose_name=gettext_lazy("More or less"), orderable=False)


class CostLineTable(FarmTable):
    """``foreseen``: pieces, hours or days, and coins, of quote and changes together."""

    phone = (("name", "paid"), ("foreseen", "used", "difference", "note"))
    phone_words = {
        "foreseen": gettext_lazy("quoted"),
        "used": gettext_lazy("used"),
        "difference": gettext_lazy("difference"),
    }

    name = tables.Column(gettext_lazy("What"), orderable=False)
    foreseen = QuantityColumn(verbose_name=gettext_lazy("Quoted"), orderable=False)
    used = QuantityColumn(verbose_name=gettext_lazy("Used"), orderable=False)
    foreseen_amount = MoneyColumn(verbose_name=gettext_lazy("Quoted at"), orderable=False)
    paid = MoneyColumn(verbose_name=gettext_lazy("Cost"), orderable=False)
    difference = MoneyColumn(verbose_name=gettext_lazy("Difference"), orderable=False)
    of_quantity = MoneyColumn(verbose_name=gettext_lazy("by quantity"), orderable=False)
    of_price = MoneyColumn(verbose_name=gettext_lazy("by price"), orderable=False)
    note = tables.Column(gettext_lazy("Standard price"), orderable=False)


class CostHouseTable(FarmTable):
    phone = (("name", "actual"), ("quoted", "changed", "at_completion"))
    phone_words = {
        "quoted": gettext_lazy("quoted"),
        "changed": gettext_lazy("changed"),
        "at_completion": gettext_lazy("at completion"),
    }

    name = tables.Column(gettext_lazy("House"), orderable=False)
    quoted = MoneyColumn(verbose_name=gettext_lazy("Quoted"), orderable=False)
    changed = MoneyColumn(verbose_name=gettext_lazy("Changed"), orderable=False)
    committed = MoneyColumn(verbose_name=gettext_lazy("On order"), orderable=False)
    actual = MoneyColumn(verbose_name=gettext_lazy("Cost so far"), orderable=False)
    to_come = MoneyColumn(verbose_name=gettext_lazy("Still to come"), orderable=False)
    at_completion = MoneyColumn(verbose_name=gettext_lazy("At completion"), orderable=False)
