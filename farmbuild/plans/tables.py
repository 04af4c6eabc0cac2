"""Tables of plans and of what is in them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.tables import wanted_address
from farmbuild.common.speaking import said
from farmbuild.common.tables import (
    FIGURE,
    DayColumn,
    FarmTable,
    LengthColumn,
    MoneyColumn,
    QuantityColumn,
)
from farmbuild.common.templatetags.farm import length_plain
from farmbuild.measure import format_decimal
from farmbuild.plans import summary
from farmbuild.plans.models import Plan
from farmbuild.plans.phases.selectors import Phase
from farmbuild.plans.phases.words import label_of
from farmbuild.sites.models import House


class PlanTable(FarmTable):
    phone = (("name", "order_total"), ("number", "first_order_by", "phase"))
    phone_words = {"number": gettext_lazy("Plan")}

    number = tables.Column(gettext_lazy("Plan"), attrs={"cell": {"class": "figure"}})
    name = tables.Column(gettext_lazy("Name"))
    phase = tables.Column(gettext_lazy("Phase"), order_by=("phase", "state"))
    as_of = DayColumn(verbose_name=gettext_lazy("As of"))
    house_count = QuantityColumn(verbose_name=gettext_lazy("Houses"))
    first_order_by = DayColumn(verbose_name=gettext_lazy("First order by"))
    order_total = MoneyColumn(verbose_name=gettext_lazy("Orders"))

    class Meta(FarmTable.Meta):
        model = Plan
        fields: tuple[str, ...] = ()
        empty_text = gettext_lazy("No plans yet.")

    def row_link(self, record: Any) -> str:
        return reverse("plans:plan", args=[record.number])

    #: By the key of a plan that is out of date, the houses that have changed.
    outdated: Mapping[int, Sequence[str]] = {}

    def render_phase(self, record: Plan) -> str:
        label = label_of(record, Phase(record.phase))
        if record.overtaken:
            return gettext("%(label)s; a plan accepted later has its houses") % {"label": label}
        if record.pk in self.outdated:
            return render_to_string("plans/outdated_state.html", {"label": label})
        return label


class TriedOrderTable(FarmTable):
    """Rows are summary.TriedOrder of ``plan``: what it would order if it were accepted."""

    phone = (("supplier", "total"), ("late", "order_by", "number"))
    phone_words = {"total": ""}
    phone_quiet = ("late",)

    supplier = tables.Column(gettext_lazy("Supplier"), orderable=False)
    order_by = DayColumn(verbose_name=gettext_lazy("Order by"), orderable=False)
    need_by = DayColumn(verbose_name=gettext_lazy("First needed by"), orderable=False)
    line_count = QuantityColumn(verbose_name=gettext_lazy("Lines"), orderable=False)
    late = tables.Column(gettext_lazy("In time"), orderable=False)
    total = MoneyColumn(verbose_name=gettext_lazy("Total"), orderable=False)
    number = tables.Column(gettext_lazy("Trial spreadsheet"), orderable=False)

    def __init__(self, *args: Any, plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plan = plan

    def row_link(self, record: Any) -> str:
        return reverse("plans:trial-order", args=[self.plan.number, record.number])

    def render_late(self, value: bool) -> str:
        return render_to_string("buying/late.html", {"late": value})

    def render_number(self, value: str) -> str:
        return gettext("trial %(number)s") % {"number": value}


class _RunColumn(tables.Column):
    """Pieces, or the length of a run that is butted together."""

    def __init__(self, name: str, **more: Any) -> None:
        super().__init__(name, orderable=False, attrs=FIGURE, **more)

    def render(self, value: Any, record: Any, table: FarmTable) -> str:
        return length_plain(value, table.organisation) if record.run else format_decimal(value, 0)


class TotalTable(FarmTable):
    """Rows are coverage.Total."""

    phone = (("material", "quantity"), ("length", "use", "in_house", "from_yard", "to_buy", "missing"))
    phone_words = {"length": ""}
    phone_quiet = ("in_house", "from_yard", "to_buy", "missing")

    material = tables.Column(_("Material"), accessor="material__name", orderable=False)
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"), orderable=False)
    use = tables.Column(gettext_lazy("Used"), accessor="whole", orderable=False)
    quantity = _RunColumn(gettext_lazy("Needed"))
    in_house = _RunColumn(gettext_lazy("In the houses"))
    from_yard = _RunColumn(gettext_lazy("From the yard"))
    to_buy = _RunColumn(gettext_lazy("To buy"))
    missing = _RunColumn(gettext_lazy("Cannot be bought"))

    def render_use(self, record: Any) -> str:
        if record.run:
            return gettext("butted to runs")
        if record.length is None:
            return gettext("counted")
        return gettext("whole") if record.whole else gettext("cut to length")


class HouseTable(FarmTable):
    """Rows are coverage.HouseFigures of ``plan``."""

    phone = (("name", "quantity"), ("need_date", "to_buy", "missing"))
    phone_quiet = ("to_buy", "missing")

    name = tables.Column(gettext_lazy("House"), orderable=False)
    site = tables.Column(gettext_lazy("Site"), orderable=False)
    need_date = DayColumn(verbose_name=gettext_lazy("Needed by"), orderable=False)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Needed"), accessor="figures__quantity", orderable=False)
    in_house = QuantityColumn(verbose_name=gettext_lazy("In the house"), accessor="figures__in_house", orderable=False)
    from_yard = QuantityColumn(
        verbose_name=gettext_lazy("From the yard"), accessor="figures__from_yard", orderable=False
    )
    to_buy = QuantityColumn(verbose_name=gettext_lazy("To buy"), accessor="figures__to_buy", orderable=False)
    missing = QuantityColumn(
        verbose_name=gettext_lazy("Cannot be bought"), accessor="figures__missing", orderable=False
    )

    def __init__(self, *args: Any, plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plan = plan

    def row_link(self, record: Any) -> str:
        return reverse("plans:house-needs", args=[self.plan.number, record.ref])


class HouseBalanceTable(FarmTable):
    """Rows are balance.BalanceRow: needed = in the house + held + on order + still to buy."""

    phone = (("material", "needed"), ("purpose", "length", "in_house", "held", "on_order", "to_find"))
    phone_words = {"length": "", "held": gettext_lazy("held"), "on_order": gettext_lazy("on order")}
    phone_quiet = ("in_house", "held", "on_order", "to_find")

    purpose = tables.Column(_("For"), orderable=False)
    material = tables.Column(_("Material"), accessor="material__name", orderable=False)
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"), orderable=False)
    needed = _RunColumn(gettext_lazy("Needed"))
    in_house = _RunColumn(gettext_lazy("In the house"))
    held = _RunColumn(gettext_lazy("Held in stock"))
    on_order = _RunColumn(gettext_lazy("Held on order"))
    to_find = _RunColumn(gettext_lazy("Still to find"))

    def render_purpose(self, value: str) -> str:
        return said(value)


class TooMuchTable(FarmTable):
    """Rows are putting_back.TooMuchRow of ``house``."""

    phone = (("material", "quantity"), ("length", "purpose", "what", "press"))
    phone_words = {"length": ""}

    material = tables.Column(_("Material"), accessor="name", orderable=False)
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"), orderable=False)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Too much"), orderable=False)
    purpose = tables.Column(gettext_lazy("Was for"), orderable=False)
    what = tables.Column(gettext_lazy("What to do"), orderable=False)
    press = tables.Column("", orderable=False, empty_values=())

    def __init__(self, *args: Any, house: House, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.house = house

    def render_purpose(self, value: str) -> str:
        return said(value)

    def render_what(self, value: str) -> str:
        return said(value)

    def render_press(self, record: Any) -> str:
        if record.refused:
            return ""
        return render_to_string("plans/put_back.html", {"row": record, "house": self.house}, request=self.request)


class ShortfallTable(FarmTable):
    """Rows are summary.ShortRow."""

    phone = (("material", "quantity"), ("length", "need_by", "supplier"))
    phone_words = {"length": "", "supplier": gettext_lazy("from")}

    material = tables.Column(_("Material"), orderable=False)
    length = LengthColumn(verbose_name=gettext_lazy("Length of one"), orderable=False)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Short"), orderable=False)
    need_by = DayColumn(verbose_name=gettext_lazy("Needed by"), orderable=False)
    supplier = tables.Column(gettext_lazy("Ordered from"), orderable=False)


class GapTable(FarmTable):
    """Rows are summary.GapRow of ``plan``; each opens where an offer of its material is added, and leads back."""

    phone = (("material", "quantity"), ("length", "reason"))
    phone_words = {"quantity": gettext_lazy("Missing"), "length": gettext_lazy("Longest")}

    material = tables.Column(_("Material"), orderable=False)
    length = LengthColumn(verbose_name=gettext_lazy("Longest piece"), orderable=False)
    quantity = QuantityColumn(verbose_name=gettext_lazy("Cannot be bought"), orderable=False)
    houses = tables.Column(gettext_lazy("Houses"), orderable=False)
    purposes = tables.Column(_("For"), orderable=False)
    reason = tables.Column(gettext_lazy("Why"), orderable=False)

    def __init__(self, *args: Any, plan: Plan, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.plan = plan

    def render_reason(self, record: Any) -> str:
        return gettext("An offer was added since. Plan again.") if record.offered else said(record.reason)

    def row_link(self, record: Any) -> str:
        back = reverse("plans:shortfall", args=[self.plan.number])
        return wanted_address(record.code, length=record.length if record.whole else None, back=back)


class TrimTable(FarmTable):
    """Rows are sawing.Trim."""

    phone = (("material", "times"), ("off", "length", "left", "house", "purpose"))
    phone_words = {"off": _("Saw off"), "length": _("of")}

    house = tables.Column(_("House"), orderable=False)
    purpose = tables.Column(_("For"), orderable=False)
    material = tables.Column(_("Material"), accessor="material__name", orderable=False)
    length = LengthColumn(verbose_name=_("Stick"), orderable=False)
    off = LengthColumn(verbose_name=_("Saw off the plain end"), orderable=False)
    left = LengthColumn(verbose_name=_("Leaves"), orderable=False)
    times = QuantityColumn(verbose_name=_("Sticks"), orderable=False)

    def render_purpose(self, value: str) -> str:
        return said(value)


class ProofTable(FarmTable):
    """Rows are summary.Proof."""

    phone = (("about", "cost"), ("optimal", "bound", "method"))
    phone_words = {"cost": _("Value"), "bound": _("least")}

    about = tables.Column(_("Material"), orderable=False)
    cost = MoneyColumn(verbose_name=_("Value of the sticks cut"), orderable=False)
    bound = MoneyColumn(verbose_name=_("Proven least"), orderable=False)
    optimal = tables.Column(_("How good"), orderable=False)
    method = tables.Column(_("How worked out"), orderable=False)

    def render_optimal(self, value: bool, record: Any) -> str:
        if value:
            return gettext("proven best")
        return gettext("at most %(percent)s %% could be saved") % {"percent": format_decimal(record.percent)}

    def render_method(self, value: str) -> str:
        return summary.said_method(value)


class _AmountColumn(tables.Column):
    """A length or a count, as the balance of its material is kept."""

    def __init__(self, name: str, accessor: str) -> None:
        super().__init__(name, accessor=f"balance__{accessor}", orderable=False, attrs=FIGURE)

    def render(self, value: Any, record: Any, table: FarmTable) -> str:
        return length_plain(value, table.organisation) if record.balance.by_length else format_decimal(value, 0)


class BalanceTable(FarmTable):
    """Rows are leaving.BalanceRow: yard + bought = in the houses + sawdust + left + scrap."""

    phone = (("material", "stock"), ("bought", "used", "kerf", "leftover", "scrap"))
    phone_quiet = ("bought", "used", "kerf", "leftover", "scrap")

    material = tables.Column(_("Material"), orderable=False)
    stock = _AmountColumn(gettext_lazy("In the yard"), "stock")
    bought = _AmountColumn(gettext_lazy("Bought"), "bought")
    used = _AmountColumn(gettext_lazy("In the houses"), "used")
    kerf = _AmountColumn(gettext_lazy("Sawdust"), "kerf")
    leftover = _AmountColumn(gettext_lazy("Left"), "leftover")
    scrap = _AmountColumn(gettext_lazy("Scrap"), "scrap")
