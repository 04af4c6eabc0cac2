"""Tables of costs. A cell of money is left out for whoever sees no costs, and so are the pages."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.measure import format_minutes


def state_of(record: Any) -> str:
    if record.reverses_id:
        return "takes back"
    return "taken back" if hasattr(record, "reversed_by") else "counts"


class _PostedTable(FarmTable):
    address = ""

    day = DayColumn(verbose_name="Day")
    house = tables.Column("For", accessor="house__name", empty_values=())
    rate = MoneyColumn(verbose_name="Price")
    amount = MoneyColumn(verbose_name="Cost")
    state = tables.Column("State", accessor="pk", orderable=False)

    def row_link(self, record: Any) -> str:
        return reverse(self.address, args=[record.pk])

    def render_house(self, record: Any) -> str:
        return str(record.house or record.job or "General expense")

    def render_state(self, record: Any) -> str:
        return state_of(record)


class PaidTimeTable(_PostedTable):
    address = "costs:time-row"
    phone = (("person", "amount"), ("day", "minutes", "house"))
    phone_words = {"day": "", "amount": "", "minutes": ""}

    person = tables.Column("Who", accessor="person__name")
    work = tables.Column("Work", accessor="step", empty_values=(), orderable=False)
    minutes = tables.Column("Hours")

    class Meta:
        sequence = ("person", "day", "house", "work", "minutes", "rate", "amount", "state")

    def render_work(self, record: Any) -> str:
        return record.what or record.get_step_display()

    def render_minutes(self, value: int) -> str:
        return f"{'-' if value < 0 else ''}{format_minutes(abs(value))}"


class EquipmentDayTable(_PostedTable):
    address = "costs:equipment-day"
    phone = (("equipment", "amount"), ("day", "house"))
    phone_words = {"day": "", "amount": ""}

    equipment = tables.Column("What", orderable=False)

    class Meta:
        sequence = ("equipment", "day", "house", "rate", "amount", "state")


class TripTable(_PostedTable):
    address = "costs:trip"
    phone = (("site", "amount"), ("day", "times", "house"))
    phone_words = {"day": "", "amount": ""}

    site = tables.Column("Site", accessor="site__name")
    times = QuantityColumn(verbose_name="Trips")
    shared = QuantityColumn(verbose_name="Shared by")

    class Meta:
        sequence = ("site", "day", "house", "times", "shared", "rate", "amount", "state")


class WaitingTable(FarmTable):
    """Rows are ``presenters.Waiting``."""

    phone = (("work", "length"), ("day", "why", "house"))
    phone_words = {"day": ""}

    work = tables.Column("Work")
    house = tables.Column("House")
    day = DayColumn(verbose_name="Day")
    length = tables.Column("Hours")
    people = QuantityColumn(verbose_name="People")
    why = tables.Column("Waits for")

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("costs:time-people", args=[record.pk])


class RateTable(FarmTable):
    """Rows are ``presenters.RateRow``."""

    what = tables.Column("Of")
    since = DayColumn(verbose_name="From this day on")
    price = MoneyColumn(verbose_name="Price")

    class Meta:
        orderable = False


class CostLineTable(FarmTable):
    """Rows are ``statement.lines.Line``."""

    phone = (("what", "amount"), ("quantity",))
    phone_words = {"amount": "", "quantity": ""}

    what = tables.Column("What")
    quantity = tables.Column("How much", attrs={"cell": {"class": "figure"}})
    amount = MoneyColumn(verbose_name="Cost", total=True)

    class Meta:
        orderable = False


class HouseCostTable(FarmTable):
    """Rows are ``statement.presenters.HouseCost``."""

    phone = (("name", "total"), ("materials", "time"))
    phone_words = {"total": ""}

    name = tables.Column("For")
    materials = MoneyColumn(verbose_name="Materials", total=True)
    time = MoneyColumn(verbose_name="Time", total=True)
    equipment = MoneyColumn(verbose_name="Equipment", total=True)
    trips = MoneyColumn(verbose_name="Trips", total=True)
    total = MoneyColumn(verbose_name="Cost", total=True)

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str | None:
        return record.url
