"""Tables of joint orders."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html_join
from django.utils.safestring import mark_safe
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import JointNeed, JointOrder


class JointTable(FarmTable):
    phone = (("title", "pieces"), ("state", "closes_on"))
    phone_words = {"pieces": _("Pieces"), "closes_on": _("closes")}

    title = tables.Column(_("For what"), order_by=("title", "number"))
    number = tables.Column(_("Joint order"))
    state = tables.Column(_("State"), accessor="pk", orderable=False)
    closes_on = DayColumn(verbose_name=_("Closing day"), order_by=("closes_on", "number"))
    need_by = DayColumn(verbose_name=_("Wanted by"), order_by=("need_by", "number"))
    people = QuantityColumn(verbose_name=_("Members"), order_by=("people", "number"))
    pieces = QuantityColumn(verbose_name=_("Pieces"), order_by=("pieces", "number"))

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

    member = tables.Column(_("Member"), orderable=False)
    what = tables.Column(_("Material"), accessor="material", orderable=False)
    quantity = QuantityColumn(verbose_name=_("Pieces"), orderable=False)
    plan = tables.Column(_("Put in"), orderable=False, empty_values=())

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
        return gettext("from plan %(plan)s") % {"plan": record.plan} if record.plan else gettext("by hand")


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

    member = tables.Column(_("Member"))
    due = QuantityColumn(verbose_name=_("Its pieces"))
    left = QuantityColumn(verbose_name=_("Still to hand out"))
    owes = MoneyColumn(verbose_name=_("Owes"), total=True)
    alone = MoneyColumn(verbose_name=_("Alone"))


class SplitTable(_RowTable):
    phone = (("member", "owes"), ("pieces", "alone"))

    member = tables.Column(_("Member"))
    pieces = tables.Column(_("Got, of what it ordered"))

    def render_pieces(self, value: list[str]) -> str:
        return format_html_join(mark_safe(",<br> "), "{}", ((words,) for words in value))

    goods = MoneyColumn(verbose_name=_("Goods"), total=True)
    tax = MoneyColumn(verbose_name=_("Tax"), total=True)
    delivery = MoneyColumn(verbose_name=_("Delivery"), total=True)
    owes = MoneyColumn(verbose_name=_("Owes"), total=True)
    alone = MoneyColumn(verbose_name=_("Alone"))
    posted = MoneyColumn(verbose_name=_("Charged"), total=True)


class SavingTable(_RowTable):
    phone = (("member", "saving"), ("together", "alone"))
    phone_words = {"saving": _("saves")}

    member = tables.Column(_("Member"))
    together = MoneyColumn(verbose_name=_("Together"), total=True)
    alone = MoneyColumn(verbose_name=_("Alone"), total=True)
    saving = MoneyColumn(verbose_name=_("Saves"), total=True)


class OfferTable(_RowTable):
    """What is ordered of whom, and at which price of its breaks."""

    phone = (("what", "quantity"), ("supplier", "unit_price", "breaks"))
    phone_quiet = ("spare",)

    what = tables.Column(_("Item"))
    supplier = tables.Column(_("Supplier"))
    quantity = QuantityColumn(verbose_name=_("Pieces"))
    spare = QuantityColumn(verbose_name=_("More than needed"))
    unit_price = MoneyColumn(verbose_name=_("Price of one"))
    breaks = tables.Column(_("Prices on offer"))
    amount = MoneyColumn(verbose_name=_("Line total"), total=True)


class GoodsTable(_RowTable):
    """Of one member: what it ordered, what of it came for it, and what it has."""

    phone = (("what", "left"), ("ordered", "due", "handed"))

    what = tables.Column(_("Material"))
    ordered = QuantityColumn(verbose_name=_("Ordered"))
    due = QuantityColumn(verbose_name=_("Came for it"))
    handed = QuantityColumn(verbose_name=_("Handed out"))
    left = QuantityColumn(verbose_name=_("Still to hand out"))


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
