"""Forms of movements and of cutting. What may be stored is decided by the services and models."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import CountField
from farmbuild.catalogue.forms import DayField
from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.measure import ByUnits, in_units
from farmbuild.sites.house_choice import HouseChoiceField
from farmbuild.stock.bridge import units_of
from farmbuild.stock.cutting import MAX_PIECES, NO_PIECE
from farmbuild.stock.forms import OfAJob, PlainSelect, house_field, paper_field
from farmbuild.stock.models import Movement, Place

#: Different lengths out of one stick that the form has room for.
LENGTHS = 4
_NOT_LONG = ByUnits(
    "Type a length longer than zero, for example 2' 6\".", "Type a length longer than zero, for example 760 mm."
)


class WhyForm(OrgForm):
    """Why, and by which paper."""

    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why in a few words, for example: counted into the wrong lot.")},
    )
    paper = paper_field()


class _HouseForm(WhyForm):
    """A house may stand for the reason."""

    house = house_field()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = False
        self.fields["reason"].help_text = gettext("Needed when it is for no house and no job.")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if "reason" in data and not data["reason"] and not self._chosen(data):
            self.add_error(
                "reason", gettext("Choose the house, or say why in a few words, for example: gate by the road.")
            )
        return data

    def _chosen(self, data: dict[str, Any]) -> bool:
        """A house is chosen or a job, or something is wrong with either."""
        return any(data.get(name) or name in self.errors for name in ("house", "job"))


class ReceiveMoreForm(OrgForm):
    quantity = CountField(label=gettext_lazy("How many pieces"))
    paper = paper_field()


class IssueForm(OfAJob, _HouseForm):
    quantity = CountField(label=gettext_lazy("Pieces to issue"))
    field_order = ["quantity", "house", "job", "reason", "paper"]


class ReturnForm(OfAJob, _HouseForm):
    quantity = CountField(label=gettext_lazy("Pieces to return"))
    field_order = ["quantity", "house", "job", "reason", "paper"]


class MoveForm(WhyForm):
    quantity = CountField(label=gettext_lazy("Pieces to move"))
    house = HouseChoiceField(
        label=gettext_lazy("Held for which house"),
        empty_label=gettext_lazy("None; free pieces"),
        help_text=gettext_lazy("What a house holds stays held for it in the new place."),
    )
    place = forms.ModelChoiceField(
        Place.objects.all(),
        label=gettext_lazy("To which place"),
        empty_label=gettext_lazy("Choose a place"),
        widget=PlainSelect,
        error_messages={"required": gettext_lazy("Choose the place they go to.")},
    )
    field_order = ["quantity", "place", "house", "reason", "paper"]


class LendForm(WhyForm):
    quantity = CountField(label=gettext_lazy("Pieces to lend"))
    borrower = forms.CharField(
        label=gettext_lazy("Who takes them"),
        max_length=120,
        error_messages={"required": gettext_lazy("Type who takes them, for example Ana Ruiz.")},
    )
    back_on = DayField(
        label=gettext_lazy("Back by"), required=False, help_text=gettext_lazy("The day agreed, if there is one.")
    )
    field_order = ["quantity", "borrower", "back_on", "reason", "paper"]


class GiveBackForm(WhyForm):
    quantity = CountField(label=gettext_lazy("Pieces returned"))
    field_order = ["quantity", "reason", "paper"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].required = False


class CutForm(_HouseForm):
    """Up to LENGTHS lengths with how many of each; ``drawn`` is the layout that the page showed."""

    sticks = CountField(label=gettext_lazy("How many sticks"), initial=1)
    keep = forms.BooleanField(label=gettext_lazy("Keep the end, however short"), required=False)
    drawn = forms.CharField(widget=forms.HiddenInput, required=False, max_length=MAX_PIECES * 24)
    field_order = ["sticks"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        system = units_of(self.organisation)
        for at in range(1, LENGTHS + 1):
            length = LengthFormField(
                label=gettext("Length of a piece") if at == 1 else gettext("Another length, %(at)s") % {"at": at}
            )
            length.required = at == 1
            length.error_messages["required"] = in_units(NO_PIECE, system)
            length.use_system(system)
            self.fields[f"length_{at}"] = length
            each = CountField(label=gettext("How many of it from each stick"), most=MAX_PIECES, required=False)
            each.initial = 1 if at == 1 else None
            self.fields[f"each_{at}"] = each
        self.fields["house"].label = gettext("Straight to which house")
        self.fields["house"].empty_label = gettext("None; into stock here")
        more = [f"{name}_{at}" for at in range(2, LENGTHS + 1) for name in ("length", "each")]
        self.groups = [
            (gettext("Out of each stick"), ["length_1", "each_1", "sticks"]),
            (gettext("What for"), ["house", "reason", "paper", "keep"]),
            (gettext("Other lengths from the same stick"), more),
        ]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for at in range(1, LENGTHS + 1):
            length = data.get(f"length_{at}")
            if length is not None and length <= 0:
                self.add_error(f"length_{at}", in_units(_NOT_LONG, self.organisation.unit_system))
            if data.get(f"each_{at}") and length is None and f"length_{at}" not in self.errors:
                self.add_error(f"length_{at}", gettext("Type how long these pieces are, or leave out how many."))
        return data

    def pieces(self) -> list[Decimal]:
        """Lengths from the left, mm; a length without a number is one piece."""
        return list(self._pieces())

    def _pieces(self) -> Iterator[Decimal]:
        for at in range(1, LENGTHS + 1):
            length = self.cleaned_data.get(f"length_{at}")
            if length is not None:
                yield from [length] * (self.cleaned_data.get(f"each_{at}") or 1)


class LedgerFilter(OrgForm):
    """What narrows the ledger; every field may be left out."""

    material = forms.ModelChoiceField(
        Material.objects.all(),
        to_field_name="code",
        required=False,
        empty_label=gettext_lazy("All materials"),
        label=gettext_lazy("Material"),
        widget=PlainSelect,
    )
    place = forms.ModelChoiceField(
        Place.objects.all(),
        required=False,
        empty_label=gettext_lazy("All places"),
        label=gettext_lazy("Place"),
        widget=PlainSelect,
    )
    kind = forms.ChoiceField(
        label=gettext_lazy("What"),
        choices=[("", gettext_lazy("Every kind")), *Movement.Kind.choices],
        required=False,
        widget=PlainSelect,
    )
    since = DayField(label=gettext_lazy("From"), required=False)
    until = DayField(label=gettext_lazy("To"), required=False)

    def filter_rows(self, movements: QuerySet[Movement]) -> QuerySet[Movement]:
        """The movements that fit; what cannot be read narrows nothing."""
        data = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        if material := data.get("material"):
            movements = movements.filter(lot__material=material)
        if place := data.get("place"):
            movements = movements.filter(lot__place=place)
        if kind := data.get("kind"):
            movements = movements.filter(kind=kind)
        if since := data.get("since"):
            movements = movements.filter(at__gte=_midnight(since))
        if until := data.get("until"):
            movements = movements.filter(at__lt=_midnight(until + timedelta(days=1)))
        return movements


def _midnight(day: date) -> datetime:
    """Where the reader's day begins. A plain comparison; asking each row for its day would take far longer."""
    return timezone.make_aware(datetime.combine(day, datetime.min.time()))
