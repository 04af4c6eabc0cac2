"""Tables of joint orders."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import mark_safe
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import JointNeed, JointOrder


class JointTable(FarmTable):
    phone = (("title", "pieces"), ("state", "closes_on"))
    phone_words = {"pieces": "Pieces", "closes_on": "closes"}

    title = tables.Column("For what", order_by=("title", "number"))
    number = tables.Column("Joint order")
    state = tables.Column("State", accessor="pk", orderable=False)
    closes_on = DayColumn(verbose_name="Closing day", order_by=("closes_on", "number"))
    need_by = DayColumn(verbose_name="Wanted by", order_by=("need_by", "number"))
    people = QuantityColumn(verbose_name="Members", order_by=("people", "number"))
    pieces = QuantityColumn(verbose_name="Pieces", order_by=("pieces", "number"))

    class Meta(FarmTable.Meta):
        model = JointOrder
        fields: tuple[str, ...] = ()

    #: By the key of a joint order, how far it is.
    states: dict[int, str] = {}

    def row_link(self, record: Any) -> str:
        return reverse("coop:joint", args=[record.number])

    def render_state(self, record: JointOrder) -> str:
        return self.states[record.pk]


class NeedTable(FarmTable):
    """What members need; of a joint order that is open each row can be changed."""

    phone = (("member", "quantity"), ("what", "plan"))
    phone_words = {"quantity": ""}

    member = tables.Column("Member", orderable=False)
    what = tables.Column("Material", accessor="material", orderable=False)
    quantity = QuantityColumn(verbose_name="Pieces", orderable=False)
    plan = tables.Column("Put in", orderable=False, empty_values=())

    class Meta(FarmTable.Meta):
        model = JointNeed
        fields: tuple[str, ...] = ()

    def __init__(self, *args: Any, joint: JointOrder, changes: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.joint, self.changes = joint, changes

    def row_link(self, record: Any) -> str | None:
        return reverse("coop:joint-need", args=[self.joint.number, record.pk]) if self.changes else None

    def render_what(self, record: JointNeed) -> str:
        return item_words(record.material, record.length, self.organisation)

    def render_plan(self, record: JointNeed) -> str:
        return f"from plan {record.plan}" if record.plan else "by hand"


class _RowTable(FarmTable):
    """Of rows worked out, each with its address or without."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, orderable=False, **kwargs)

    def row_link(self, record: dict[str, Any]) -> str | None:
        return record.get("url")


class ShareTable(_RowTable):
    """Whose what came is, and who has it."""

    phone = (("member", "owes"), ("due", "left", "alone"))
    phone_quiet = ("left",)

    member = tables.Column("Member")
    due = QuantityColumn(verbose_name="Its pieces")
    left = QuantityColumn(verbose_name="Still to hand out")
    owes = MoneyColumn(verbose_name="Owes", total=True)
    alone = MoneyColumn(verbose_name="Alone")


class SplitTable(_RowTable):
    phone = (("member", "owes"), ("pieces", "alone"))

    member = tables.Column("Member")
    pieces = tables.Column("Got, of what it ordered")

    def render_pieces(self, value: list[str]) -> str:
        return format_html_join(mark_safe(",<br> "), "{}", ((words,) for words in value))

    goods = MoneyColumn(verbose_name="Goods", total=True)
    tax = MoneyColumn(verbose_name="Tax", total=True)
    delivery = MoneyColumn(verbose_name="Delivery", total=True)
    owes = MoneyColumn(verbose_name="Owes", total=True)
    alone = MoneyColumn(verbose_name="Alone")
    posted = MoneyColumn(verbose_name="Charged", total=True)


class SavingTable(_RowTable):
    phone = (("member", "saving"), ("together", "alone"))
    phone_words = {"saving": "saves"}

    member = tables.Column("Member")
    together = MoneyColumn(verbose_name="Together", total=True)
    alone = MoneyColumn(verbose_name="Alone", total=True)
    saving = MoneyColumn(verbose_name="Saves", total=True)


class OfferTable(_RowTable):
    """What is ordered of whom, and at which price of its breaks."""

    phone = (("what", "quantity"), ("supplier", "unit_price", "breaks"))
    phone_quiet = ("spare",)

    what = tables.Column("Item")
    supplier = tables.Column("Supplier")
    quantity = QuantityColumn(verbose_name="Pieces")
    spare = QuantityColumn(verbose_name="More than needed")
    unit_price = MoneyColumn(verbose_name="Price of one")
    breaks = tables.Column("Prices on offer")
    amount = MoneyColumn(verbose_name="Line total", total=True)


class GoodsTable(_RowTable):
    """Of one member: what it ordered, what of it came for it, and what it has."""

    phone = (("what", "left"), ("ordered", "due", "handed"))

    what = tables.Column("Material")
    ordered = QuantityColumn(verbose_name="Ordered")
    due = QuantityColumn(verbose_name="Came for it")
    handed = QuantityColumn(verbose_name="Handed out")
    left = QuantityColumn(verbose_name="Still to hand out")


class OwnGoodsTable(_RowTable):
    """A member's own, on its own page."""

    phone = (("what", "quantity"), ("due", "handed"))

    what = tables.Column(_("Material"))
    quantity = QuantityColumn(verbose_name=_("Pieces"))
    due = QuantityColumn(verbose_name=_("Came for you"))
    handed = QuantityColumn(verbose_name=_("You have"))


class OwnJointTable(_RowTable):
    phone = (("title", "pieces"), ("state", "closes_on"))
    phone_words = {"pieces": _("yours"), "closes_on": _("closes")}

    title = tables.Column(_("For what"))
    state = tables.Column(_("State"))
    closes_on = DayColumn(verbose_name=_("Closing day"))
    need_by = DayColumn(verbose_name=_("Wanted by"))
    pieces = QuantityColumn(verbose_name=_("Your pieces"))


class PlanTable(_RowTable):
    what = tables.Column(_("Material"))
    quantity = QuantityColumn(verbose_name=_("Pieces"))
