"""Forms of counts. What may be stored is decided by the services and models."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import CountField, MoneyField, use_organisation
from farmbuild.catalogue.models import MAX_QUANTITY, Material
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm, RowsField
from farmbuild.common.speaking import said_count
from farmbuild.stock.bridge import units_of
from farmbuild.stock.counts.services import Counted
from farmbuild.stock.counts.workbooks import MAX_BYTES, MAX_ROWS
from farmbuild.stock.forms import UploadForm, ask_by_kind, grouped_materials, site_field
from farmbuild.stock.models import CountLine, Lot, Place

#: Digits of the key of a lot in the name of its box.
MOST_DIGITS = 12
#: What arrives within this time of its press was counted as it arrived.
AT_ONCE = timedelta(minutes=2)


class MomentField(forms.DateTimeField):
    """When a sheet was filled in, picked or typed; left empty it is now."""

    def __init__(self) -> None:
        super().__init__(
            label=gettext_lazy("When was it counted"),
            required=False,
            help_text=gettext(
                "For what is copied from paper. Pieces that were moved, cut or issued after that stay so."
                " Left empty it is now."
            ),
            error_messages={
                "invalid": gettext(
                    "This time cannot be read. Pick it, or type it like 2027-05-03 14:30, or leave it empty."
                )
            },
            widget=forms.DateTimeInput(attrs={"type": "datetime-local"}, format="%Y-%m-%dT%H:%M"),
        )


class _PlacesField(RowsField):
    def label_from_instance(self, place: Place) -> str:
        lots = said_count(place.lot_count, "lot")
        return f"{place.name}, {place.site} ({lots})" if place.site else f"{place.name} ({lots})"


class StartForm(OrgForm):
    """``places`` comes in the order of a walk."""

    places = _PlacesField(
        Place.objects.all(),
        label=gettext_lazy("Which places"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    new_place = forms.CharField(
        label=gettext_lazy("A new place"),
        max_length=80,
        required=False,
        help_text=gettext_lazy("Where nothing is in the stock record yet, for example Rack by the gate."),
    )
    site = site_field()
    blind = forms.BooleanField(
        label=gettext_lazy("Leave out the stock record"),
        required=False,
        help_text=gettext_lazy(
            "Whoever counts then sees the lots without their numbers, and counts instead of agreeing."
        ),
    )
    look_again = MoneyField(
        label=gettext_lazy("Count again from a difference of"),
        required=False,
        places=2,
        empty_value=Decimal(0),
        help_text=gettext_lazy(
            "Differences of this value or more are offered for a second count. It can be changed in the review."
        ),
    )

    def __init__(self, *args: Any, places: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["places"].queryset = places
        self.fields["site"].help_text = gettext("Only for the new place.")
        if not places:
            del self.fields["places"]
        use_organisation(self, self.organisation)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        data["places"] = list(data.get("places") or [])
        data["new_place"] = " ".join(data.get("new_place", "").split())
        if not data["places"] and not data["new_place"] and not self.errors:
            where = "places" if "places" in self.fields else "new_place"
            self.add_error(where, gettext("Choose at least one place to count. You may type the name of a new one."))
        return data


class PlaceSheetForm(OrgForm):
    """One box a lot, and what the page showed in it, so that only what someone typed is entered.

    ``lines``: lots on the sheet; ``more``: lots that came in since the start.
    """

    counted_at = MomentField()
    #: When it was pressed, of what waited on a phone for reception.
    pressed_at = forms.DateTimeField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, lines: Sequence[CountLine], more: Sequence[Lot], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lines, self.more = list(lines), list(more)
        self.lots = [*(line.lot for line in self.lines), *self.more]
        shown = {line.lot_id: line.counted for line in self.lines if not line.again}
        for lot in self.lots:
            box = CountField(label=gettext("Counted of %(lot)s") % {"lot": lot}, least=0, required=False)
            box.initial = shown.get(lot.pk)
            box.widget.attrs |= {"data-part": "counted", "data-count-box": ""}
            self.fields[f"lot_{lot.pk}"] = box
            self.fields[f"was_{lot.pk}"] = forms.IntegerField(
                widget=forms.HiddenInput, required=False, min_value=0, max_value=MAX_QUANTITY, initial=shown.get(lot.pk)
            )

    @staticmethod
    def lots_sent(sent: Mapping[str, Any]) -> list[int]:
        """Keys of the lots that have a box in what was sent."""
        keys = (name.removeprefix("lot_") for name in sent if name.startswith("lot_"))
        return [int(key) for key in keys if key.isdecimal() and len(key) <= MOST_DIGITS]

    def rows(self) -> Iterator[tuple[CountLine | None, Lot, Any, Any]]:
        """Line or None, lot, its box and the hidden field of what was shown."""
        lines: list[CountLine | None] = [*self.lines, *([None] * len(self.more))]
        for line, lot in zip(lines, self.lots, strict=True):
            yield line, lot, self[f"lot_{lot.pk}"], self[f"was_{lot.pk}"]

    def moment(self) -> datetime | None:
        """When it was counted; None is now. A phone whose clock is ahead counts now."""
        pressed = self.cleaned_data["pressed_at"]
        waited = pressed is not None and timezone.now() - pressed > AT_ONCE
        return self.cleaned_data["counted_at"] or (pressed if waited else None)

    def counted(self) -> list[Counted]:
        """What was typed here; boxes left as they were are nobody's entry."""
        data = self.cleaned_data
        typed = ((lot, data.get(f"lot_{lot.pk}"), data.get(f"was_{lot.pk}")) for lot in self.lots)
        return [Counted(lot.pk, pieces) for lot, pieces, was in typed if pieces is not None and pieces != was]


class FindForm(OrgForm):
    """Pieces that are not in the stock record."""

    material = forms.ModelChoiceField(
        Material.objects.all(),
        label=gettext_lazy("Material"),
        error_messages={"required": gettext_lazy("Choose the material.")},
    )
    length = LengthFormField(
        label=gettext_lazy("Length of one piece"),
        required=False,
        help_text=gettext_lazy("Leave empty for counted things."),
    )
    quantity = CountField(label=gettext_lazy("How many pieces"))
    offcut = forms.BooleanField(label=gettext_lazy("Offcut: no swaged end left"), required=False)
    unit_cost = MoneyField(
        label=gettext_lazy("Cost of one piece"),
        required=False,
        help_text=gettext_lazy("Left empty, what such pieces cost last."),
    )
    note = forms.CharField(
        label=gettext_lazy("Note"),
        max_length=200,
        required=False,
        help_text=gettext_lazy("For example: behind the door."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)
        self.fields["length"].use_system(units_of(self.organisation))
        self.fields["material"].choices = grouped_materials(self.organisation)
        ask_by_kind(self)


class SheetUploadForm(UploadForm):
    most_rows, most_mb = MAX_ROWS, MAX_BYTES // 1024**2
    purpose = gettext_lazy("Nothing is entered before you have seen every row.")
    counted_at = MomentField()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].label = gettext("The filled-in sheet")


class LimitForm(OrgForm):
    """From which difference on a second count is asked for."""

    limit = MoneyField(label=gettext_lazy("Differences from"), required=False, places=2, empty_value=Decimal(0))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)
