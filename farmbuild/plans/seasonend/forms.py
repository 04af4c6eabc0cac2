"""Which season ends when, which houses come next, and why offcuts go."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.forms import DayField
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.measure import ByUnits
from farmbuild.orgs.models import Organisation
from farmbuild.plans.forms import HousesField
from farmbuild.plans.seasonend.selectors import next_houses
from farmbuild.sites.models import House
from farmbuild.sites.selectors import houses_of
from farmbuild.stock.ledger_forms import WhyForm


class SeasonEndForm(OrgForm):
    """Bound with what the address says; without a day the defaults stand in: ``day``, the houses needed after it, and
    the organisation's shortest offcut worth keeping."""

    day = DayField(label=gettext_lazy("Last day of the season"))
    below = LengthFormField(
        label=gettext_lazy("Propose offcuts for scrap that are shorter than"),
        small=True,
        minimum=Decimal(0),
        error_messages={"required": ByUnits("Type a length, for example 2'.", "Type a length, for example 600 mm.")},
    )
    houses = HousesField(
        queryset=House.objects.none(),
        label=gettext_lazy("Houses of the next season"),
        required=False,
        error_messages={
            "invalid_choice": gettext_lazy("A ticked house has been archived or is not yours. Tick again.")
        },
    )

    def __init__(self, data: Any, *, organisation: Organisation, today: date, **kwargs: Any) -> None:
        initial = {"day": today, "below": organisation.keep_from}
        if "day" not in data:
            data = None
            initial["houses"] = list(next_houses(organisation=organisation, day=today))
        super().__init__(data, organisation=organisation, initial=initial, **kwargs)
        self.fields["houses"].queryset = houses_of(organisation=organisation)

    @property
    def asked(self) -> dict[str, Any]:
        """What is asked for; where it cannot be read the defaults stand in."""
        if not self.is_bound:
            return self.initial
        told = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        return self.initial | {"houses": []} | {name: value for name, value in told.items() if value is not None}


class ScrapOffcutsForm(WhyForm):
    """Why the ticked offcuts go."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        initial="Too short to keep after the season",
        error_messages={"required": gettext_lazy("Say why in a few words, for example: too short to keep.")},
    )


def read_takes(values: Iterable[str]) -> list[tuple[int, int]]:
    """Lot key and pieces of each tick. Raises ValidationError when one cannot be read."""
    takes = []
    for value in values:
        key, _, pieces = value.partition(":")
        if not (key.isascii() and key.isdigit() and pieces.isascii() and pieces.isdigit()) or len(value) > 30:
            raise ValidationError(gettext("A tick cannot be read. Go back and tick again."))
        if not 0 < int(pieces) <= 999_999_999 or int(key) >= 2**63:
            raise ValidationError(gettext("A tick cannot be read. Go back and tick again."))
        takes.append((int(key), int(pieces)))
    return takes
