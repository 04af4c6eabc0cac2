"""The form of journeys: minutes between every two sites shown."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.utils.translation import gettext

from farmbuild.common.form_parts import set_integer_messages
from farmbuild.common.forms import OrgForm
from farmbuild.common.number_fields import WholeFormField
from farmbuild.sites.models import Site

MAX_MINUTES = 1440

Pair = tuple[Site, Site]


class TravelForm(OrgForm):
    """``pairs``: a box for each; ``stored``: minutes by the sites' keys, the lower first."""

    def __init__(
        self, *args: Any, pairs: Sequence[Pair], stored: Mapping[tuple[int, int], int], usual: int, **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        self.pairs = {f"road{one.pk}_{other.pk}": (one, other) for one, other in pairs}
        for name, (one, other) in self.pairs.items():
            self.fields[name] = WholeFormField(
                label=gettext("%(one)s to %(other)s") % {"one": one, "other": other},
                required=False,
                min_value=0,
                max_value=MAX_MINUTES,
                initial=stored.get((min(one.pk, other.pk), max(one.pk, other.pk))),
                widget=forms.NumberInput(attrs={"placeholder": usual}),
            )
        set_integer_messages(self)

    @property
    def groups(self) -> list[tuple[str, list[str]]]:
        """By the site that stands first."""
        found: dict[str, list[str]] = {}
        for name, (one, _) in self.pairs.items():
            found.setdefault(gettext("Minutes from %(one)s") % {"one": one}, []).append(name)
        return list(found.items())

    @property
    def minutes(self) -> dict[Pair, int | None]:
        return {pair: self.cleaned_data[name] for name, pair in self.pairs.items()}
