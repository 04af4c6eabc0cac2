"""Tables of costs. A cell of money is left out for whoever sees no costs, and so are the pages."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.measure import format_minutes


def state_of(record: Any) -> str:
    if record.reverses_id:
        return gettext("takes back")
    return gettext("taken back") if hasattr(record, "reversed_by") else gettext("counts")


class _PostedTable(FarmTable):
    address = ""

    day = DayColumn(verbose_name=gettext_lazy("Day"))
    house = tables.Column(gettext_lazy("For"), accessor="house__name", empty_values=())
    rate = MoneyColumn(verbose_name=gettext_lazy("Price"))
    amount = MoneyColumn(verbose_name=gettext_lazy("Cost"))
    state = tables.Column(gettext_lazy("State"), accessor="pk", orderable=False)

    def row_link(self, record: Any) -> str:
        return reverse(self.address, args=[record.pk])

    def render_house(self, record: Any) -> str:
        return str(record.house or record.job or gettext("General expense"))

    def render_state(self, record: Any) -> str:
        return state_of(record)


class PaidTimeTable(_PostedTable):
    address = "costs:time-row"
    phone = (("person", "amount"), ("day", "minutes", "house"))
    phone_words = {"day": "", "amount": "", "minutes": ""}

    person = tables.Column(gettext_lazy("Who"), accessor="person__name")
    work = tables.Column(gettext_lazy("Work"), accessor="step", empty_values=(), orderable=False)
    minutes = tables.Column(gettext_lazy("Hours"))

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

    equipment = tables.Column(gettext_lazy("What"), orderable=False)

    class Meta:
        sequence = ("equipment", "day", "house", "rate", "amount", "state")


class TripTable(_PostedTable):
    address = "costs:trip"
    phone = (("site", "amount"), ("day", "times", "house"))
    phone_words = {"day": "", "amount": ""}

    site = tables.Column(gettext_lazy("Site"), accessor="site__name")
    times = QuantityColumn(verbose_name=gettext_lazy("Trips"))
    shared = QuantityColumn(verbose_name=gettext_lazy("Shared by"))

    class Meta:
        sequence = ("site", "day", "house", "times", "shared", "rate", "amount", "state")


class WaitingTable(FarmTable):
    """Rows are ``presenters.Waiting``."""

    phone = (("work", "length"), ("day", "why", "house"))
    phone_words = {"day": ""}

    work = tables.Column(gettext_lazy("Work"))
    house = tables.Column(gettext_lazy("House"))
    day = DayColumn(verbose_name=gettext_lazy("Day"))
    length = tables.Column(gettext_lazy("Hours"))
    people = QuantityColumn(verbose_name=gettext_lazy("People"))
    why = tables.Column(gettext_lazy("Waits for"))

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("costs:time-people", args=[record.pk])


class RateTable(FarmTable):
    """Rows are ``presenters.RateRow``."""

    what = tables.Column(gettext_lazy("Of"))
    since = DayColumn(verbose_name=gettext_lazy("From this day on"))
    price = MoneyColumn(verbose_name=gettext_lazy("Price"))

    class Meta:
        orderable = False


class CostLineTable(FarmTable):
    """Rows are ``statement.lines.Line``."""

    phone = (("what", "amount"), ("quantity",))
    phone_words = {"amount": "", "quantity": ""}

    what = tables.Column(gettext_lazy("What"))
    quantity = tables.Column(gettext_lazy("How much"), attrs={"cell": {"class": "figure"}})
    amount = MoneyColumn(verbose_name=gettext_lazy("Cost"), total=True)

    class Meta:
        orderable = False


class HouseCostTable(FarmTable):
    """Rows are ``statement.presenters.HouseCost``."""

    phone = (("name", "total"), ("materials", "time"))
    phone_words = {"total": ""}

    name = tables.Column(gettext_lazy("For"))
    materials = MoneyColumn(verbose_name=gettext_lazy("Materials"), total=True)
    time = MoneyColumn(verbose_name=gettext_lazy("Time"), total=True)
    equipment = MoneyColumn(verbose_name=gettext_lazy("Equipment"), total=True)
    trips = MoneyColumn(verbose_name=gettext_lazy("Trips"), total=True)
    total = MoneyColumn(verbose_name=gettext_lazy("Cost"), total=True)

    class Meta:
        orderable = False

    def row_link(self, record: Any) -> str | None:
        return record.url
