"""Tables of cost against quote."""

from __future__ import annotations

import django_tables2 as tables

from farmbuild.common.tables import FarmTable, MoneyColumn, QuantityColumn


class CauseTable(FarmTable):
    phone = (("what", "amount"), ())
    phone_words = {"amount": ""}

    what = tables.Column("Cause", orderable=False)
    amount = MoneyColumn(verbose_name="More or less", orderable=False)


class CostLineTable(FarmTable):
    """``foreseen``: pieces, hours or days, and coins, of quote and changes together."""

    phone = (("name", "paid"), ("foreseen", "used", "difference", "note"))
    phone_words = {"foreseen": "quoted", "used": "used", "difference": "difference"}

    name = tables.Column("What", orderable=False)
    foreseen = QuantityColumn(verbose_name="Quoted", orderable=False)
    used = QuantityColumn(verbose_name="Used", orderable=False)
    foreseen_amount = MoneyColumn(verbose_name="Quoted at", orderable=False)
    paid = MoneyColumn(verbose_name="Cost", orderable=False)
    difference = MoneyColumn(verbose_name="Difference", orderable=False)
    of_quantity = MoneyColumn(verbose_name="by quantity", orderable=False)
    of_price = MoneyColumn(verbose_name="by price", orderable=False)
    note = tables.Column("Standard price", orderable=False)


class CostHouseTable(FarmTable):
    phone = (("name", "actual"), ("quoted", "changed", "at_completion"))
    phone_words = {"quoted": "quoted", "changed": "changed", "at_completion": "at completion"}

    name = tables.Column("House", orderable=False)
    quoted = MoneyColumn(verbose_name="Quoted", orderable=False)
    changed = MoneyColumn(verbose_name="Changed", orderable=False)
    committed = MoneyColumn(verbose_name="On order", orderable=False)
    actual = MoneyColumn(verbose_name="Cost so far", orderable=False)
    to_come = MoneyColumn(verbose_name="Still to come", orderable=False)
    at_completion = MoneyColumn(verbose_name="At completion", orderable=False)
