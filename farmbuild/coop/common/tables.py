"""Tables of common stock. Prices are left out for whoever sees no costs."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.coop.common.words import STATES, State, lot_item_words, whom_words
from farmbuild.coop.models import CommonOffer, CommonWish

_ITEM = ("lot__material__name", "lot__length", "pk")


class OfferTable(FarmTable):
    """Of the cooperative."""

    phone = (("item", "left"), ("lot", "whom", "wished"))
    phone_words = {"left": _("free"), "wished": _("asked for"), "lot": "", "whom": _("to")}
    phone_quiet = ("wished",)

    item = tables.Column(_("Material"), accessor="lot", order_by=_ITEM)
    lot = tables.Column(_("Lot"), accessor="lot__reference", order_by=("lot__reference", "pk"))
    quantity = QuantityColumn(verbose_name=_("Opened"), order_by=("quantity", "pk"))
    wished = QuantityColumn(verbose_name=_("Asked for"), order_by=("wished", "pk"))
    given = QuantityColumn(verbose_name=_("Given"), order_by=("given", "pk"))
    left = QuantityColumn(verbose_name=_("Still free"), order_by=("left", "pk"))
    price = MoneyColumn(verbose_name=_("Price of one"), order_by=("price", "pk"))
    whom = tables.Column(_("Open to"), accessor="pk", orderable=False)
    until = DayColumn(verbose_name=_("Until"), order_by=("until", "pk"))

    class Meta(FarmTable.Meta):
        model = CommonOffer
        fields: tuple[str, ...] = ()

    def row_link(self, record: Any) -> str:
        return reverse("coop:common-offer", args=[record.pk])

    def render_item(self, record: CommonOffer) -> str:
        return lot_item_words(record.lot, self.organisation)

    def render_whom(self, record: CommonOffer) -> str:
        return whom_words(record)


class _WishTable(FarmTable):
    item = tables.Column(
        _("Material"),
        accessor="offer__lot",
        order_by=("offer__lot__material__name", "offer__lot__length", "pk"),
    )
    quantity = QuantityColumn(verbose_name=_("Pieces"), order_by=("quantity", "pk"))
    price = MoneyColumn(verbose_name=_("Price of one"), order_by=("price", "pk"))
    made_at = DayColumn(verbose_name=_("Asked on"), order_by=("made_at", "pk"))
    state = tables.Column(_("State"), order_by=("state", "pk"))

    class Meta(FarmTable.Meta):
        model = CommonWish
        fields: tuple[str, ...] = ()

    def render_item(self, record: CommonWish) -> str:
        return lot_item_words(record.offer.lot, self.organisation)

    def render_state(self, record: CommonWish) -> str:
        return str(STATES[State(record.state)])


class WishTable(_WishTable):
    """What members ask for, as their cooperative reads it."""

    phone = (("member", "quantity"), ("item", "made_at", "state"))
    phone_words = {"quantity": "", "item": "", "made_at": "", "state": ""}

    member = tables.Column(_("Member"), accessor="member__name", order_by=("member__name", "pk"))
    lot = tables.Column(_("Lot"), accessor="offer__lot__reference", order_by=("offer__lot__reference", "pk"))

    class Meta(_WishTable.Meta):
        sequence = ("member", "item", "lot", "quantity", "price", "made_at", "state")

    def row_link(self, record: Any) -> str:
        return reverse("coop:common-wish", args=[record.pk])


class OpenTable(FarmTable):
    """What is open to a member, as it reads it."""

    phone = (("item", "left"), ("price", "until"))
    phone_words = {"left": _("free"), "price": "", "until": _("until")}

    item = tables.Column(_("Material"), accessor="lot", order_by=_ITEM)
    left = QuantityColumn(verbose_name=_("Still free"), order_by=("left", "pk"))
    price = MoneyColumn(verbose_name=_("Price of one"), order_by=("price", "pk"))
    place = tables.Column(_("Lies at"), accessor="lot__place__name", order_by=("lot__place__name", "pk"))
    until = DayColumn(verbose_name=_("Until"), order_by=("until", "pk"))

    class Meta(FarmTable.Meta):
        model = CommonOffer
        fields: tuple[str, ...] = ()

    def row_link(self, record: Any) -> str:
        return reverse("coop:seen-common-offer", args=[record.organisation.slug, record.pk])

    def render_item(self, record: CommonOffer) -> str:
        return lot_item_words(record.lot, self.organisation)


class OwnWishTable(_WishTable):
    """What a member asked for, as it reads it."""

    phone = (("item", "quantity"), ("made_at", "state"))
    phone_words = {"quantity": "", "made_at": "", "state": ""}

    class Meta(_WishTable.Meta):
        sequence = ("item", "quantity", "price", "made_at", "state")

    def row_link(self, record: Any) -> str:
        return reverse("coop:seen-common-wish", args=[record.organisation.slug, record.pk])
