"""Tables of a fit: its hoops, and the fits before it."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.lengths import length_pair_text, length_text
from farmbuild.common.tables import FIGURE, FarmTable, LengthColumn, QuantityColumn
from farmbuild.common.templatetags.farm import moment
from farmbuild.hoops.fits.models import HouseFit

_BY_HAND = {"cell": {"class": "by-hand"}}


class HoopTable(FarmTable):
    """Rows are ``sheets.HoopRow``; the last column is for the hand, on paper."""

    phone = (("hoop", "move"), ("height", "before", "height_after", "post_span"))
    phone_words = {"move": "", "before": "", "height_after": _("then")}

    hoop = tables.Column(_("Hoop"))
    post_span = LengthColumn(verbose_name=_("Posts"))
    height = LengthColumn(verbose_name=_("Ridge"))
    before = tables.Column(_("Off the line"), attrs={"cell": {"class": "figure screen-only"}})
    move = tables.Column(_("Move"), attrs=FIGURE)
    height_after = LengthColumn(verbose_name=_("Ridge then"))
    hand = tables.Column(_("Measured then"), empty_values=(), attrs=_BY_HAND)

    class Meta:
        fields = ("hoop", "post_span", "height", "before", "move", "height_after", "hand")
        orderable = False
        empty_text = _("No hoop was measured.")

    def _signed(self, value: Decimal, above: str, below: str, none: str) -> Any:
        units = self.organisation.unit_system
        if length_text(abs(value), units) == length_text(Decimal(0), units):
            return none
        own, other = length_pair_text(abs(value), units).split(" · ")
        return format_html(
            '{} <span class="length">{} <small>{}</small></span>', above if value > 0 else below, own, other
        )

    def render_before(self, value: Decimal) -> Any:
        return self._signed(value, gettext("high"), gettext("low"), gettext("on it"))

    def render_move(self, value: Decimal, record: Any) -> Any:
        words = self._signed(value, gettext("up"), gettext("down"), gettext("none"))
        return (
            format_html('{} <strong class="late">{}</strong>', words, gettext("stays off")) if record.outside else words
        )

    def render_hoop(self, value: int) -> str:
        return gettext("Hoop %(value)s") % {"value": value}

    def render_hand(self) -> str:
        return ""


class FitTable(FarmTable):
    phone = (("at", "measured"), ("tolerance", "by"))
    phone_words = {"measured": _("Hoops")}

    at = tables.Column(_("Measured"))
    measured = QuantityColumn(verbose_name=_("Hoops measured"))
    tolerance = LengthColumn(verbose_name=_("Within"))
    by = tables.Column(_("Who"), default="")

    class Meta:
        model = HouseFit
        fields = ("at", "measured", "tolerance", "by")
        orderable = False

    def row_link(self, record: Any) -> str:
        return reverse("hoops:fit", args=[record.house.slug, record.pk])

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_by(self, value: Any) -> str:
        return value.display_name
