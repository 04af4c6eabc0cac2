"""Tables of batches, their shares, sticks and trial hoops."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from typing import Any

import django_tables2 as tables
from django.template.loader import render_to_string
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import FarmTable, LengthColumn, QuantityColumn
from farmbuild.common.templatetags.farm import moment
from farmbuild.hoops.batches.bridge import Verdict
from farmbuild.hoops.batches.models import BatchHouse, BentHoops, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.hoops.batches.words import VERDICTS
from farmbuild.measure import format_decimal
from farmbuild.sites.phases import PlanPhase


def who(value: Any) -> str:
    return value.display_name


class BatchTable(FarmTable):
    phone = (("number", "quantity"), ("hoops_bent", "state", "recipe"))

    number = tables.Column(_("Batch"))
    recipe = tables.Column(_("Recipe"), accessor="recipe__name")
    bender = tables.Column(_("Bender"), accessor="bender__name")
    state = tables.Column(_("State"))
    attempts = QuantityColumn(verbose_name=_("Trial hoops"))
    hoops_bent = QuantityColumn(verbose_name=_("Bent"))
    quantity = QuantityColumn(verbose_name=_("To make"))

    class Meta:
        model = HoopBatch
        fields = ("number", "recipe", "bender", "state", "attempts", "hoops_bent", "quantity")
        empty_text = _("No batches here.")

    def row_link(self, record: Any) -> str:
        return reverse("hoops:batch", args=[record.number])

    #: Keys of batches that bend another hoop than a house of theirs now has.
    outdated: Collection[int] = ()

    def render_number(self, value: int) -> str:
        return gettext("Batch %(value)s") % {"value": value}

    def render_state(self, record: HoopBatch) -> str:
        if record.pk in self.outdated:
            return render_to_string("hoops/batches/outdated_state.html", {"batch": record})
        return record.get_state_display()


class AttemptsTable(FarmTable):
    phone = (("bender", "attempts"), ("batches", "tube"))
    phone_words = {"attempts": _("Trial hoops")}

    bender = tables.Column(_("Bender"))
    tube = tables.Column(_("Tube"))
    batches = QuantityColumn(verbose_name=_("Proven batches"))
    attempts = tables.Column(
        _("Trial hoops each, on average"), attrs={"cell": {"class": "figure"}, "tf": {"class": "figure"}}
    )

    class Meta:
        orderable = False
        empty_text = _("No batch is proven yet.")

    def row_link(self, record: Any) -> str:
        return reverse("hoops:bender", args=[record.slug])

    def render_attempts(self, value: float) -> str:
        return format_decimal(value, 1)


class ShareTable(FarmTable):
    house = tables.Column(_("House"))
    site = tables.Column(_("Site"), accessor="house__site")
    hoops = QuantityColumn(verbose_name=_("Hoops"), total=True)
    phase = tables.Column(_("Its plan"), empty_values=())

    #: By the key of the house, how far its plan is.
    phases: Mapping[int, PlanPhase] = {}

    class Meta:
        model = BatchHouse
        fields = ("house", "site", "hoops")
        orderable = False
        empty_text = _("For no house in particular.")

    def row_link(self, record: Any) -> str:
        return reverse("sites:house", args=[record.house.slug])

    def render_phase(self, record: BatchHouse) -> str:
        found = self.phases.get(record.house_id)
        return gettext(found.phase) if found else gettext("No plan")


class SticksTable(FarmTable):
    lot = tables.Column(_("Lot"))
    place = tables.Column(_("Place"), accessor="lot__place")
    sticks = QuantityColumn(verbose_name=_("Sticks"), total=True)

    class Meta:
        orderable = False
        empty_text = _("No sticks are issued yet.")

    def row_link(self, record: Any) -> str:
        return reverse("stock:lot", args=[record.lot.pk])


class TrialTable(FarmTable):
    phone = (("attempt", "verdict"), ("free_span", "rise", "at"))

    attempt = tables.Column(_("Trial hoop"))
    at = tables.Column(_("When"))
    free_span = LengthColumn(verbose_name=_("Free span"))
    rise = LengthColumn(verbose_name=_("Rise"))
    stop_gap = LengthColumn(verbose_name=_("Stop gap"))
    verdict = tables.Column(_("Verdict"))
    fresh_sticks = QuantityColumn(verbose_name=_("Fresh sticks"), default="")
    spoilt_sticks = QuantityColumn(verbose_name=_("Spoilt sticks"))
    by = tables.Column(_("Who"), default="")

    class Meta:
        model = TrialHoop
        fields = ("attempt", "at", "free_span", "rise", "stop_gap", "verdict", "fresh_sticks", "spoilt_sticks", "by")
        orderable = False
        empty_text = _("No trial hoop is measured yet.")

    def row_link(self, record: Any) -> str:
        return reverse("hoops:batch-attempt", args=[record.batch.number, record.attempt])

    def render_attempt(self, value: int) -> str:
        return gettext("Trial hoop %(value)s") % {"value": value}

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_verdict(self, record: TrialHoop) -> str:
        if record.accepted:
            return gettext("accepted outside tolerance") if record.accepted_outside else gettext("accepted")
        return gettext(VERDICTS[Verdict(record.verdict)])

    def render_by(self, value: Any) -> str:
        return who(value)


class BentTable(FarmTable):
    at = tables.Column(_("When"))
    hoops = QuantityColumn(verbose_name=_("Hoops"), total=True)
    by = tables.Column(_("Who"), default="")
    note = tables.Column(_("Note"), default="")

    class Meta:
        model = BentHoops
        fields = ("at", "hoops", "by", "note")
        orderable = False
        empty_text = _("No hoop is bent yet.")

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_by(self, value: Any) -> str:
        return who(value)


class SpoiltTable(FarmTable):
    phone = (("at", "sticks"), ("reason", "by"))

    at = tables.Column(_("When"))
    sticks = QuantityColumn(verbose_name=_("Sticks"), total=True)
    reason = tables.Column(_("Why"))
    by = tables.Column(_("Who"), default="")

    class Meta:
        model = SpoiltSticks
        fields = ("at", "sticks", "reason", "by")
        orderable = False

    def render_at(self, value: Any) -> str:
        return moment(value)

    def render_by(self, value: Any) -> str:
        return who(value)
