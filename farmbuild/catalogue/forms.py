"""Forms of materials, suppliers and offers. What may be stored is decided by the services and models."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django import forms
from django.core.validators import MaxValueValidator, MinValueValidator
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import CountField, MoneyField, use_organisation
from farmbuild.catalogue.models import YIELD_HELP, Material, Offer, Supplier
from farmbuild.catalogue.selectors import materials_in_use
from farmbuild.catalogue.services import RESERVED
from farmbuild.catalogue.usual import length_question, price_question, usual_of
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.number_fields import DecimalFormField
from farmbuild.common.sure import AsksOnce
from farmbuild.measure import ByUnits, format_count, format_decimal, in_units
from farmbuild.measure.limits import MAX_LEAD_DAYS, PAPER_DAYS, YIELD_LEAST, YIELD_MOST
from farmbuild.measure.speech import gettext_noop

#: Empty price rows at the end of an offer, and the fewest in all.
_SPARE_ROWS, _MIN_ROWS, _MAX_ROWS = 2, 4, 30


class DayField(forms.DateField):
    """A day, picked or typed year first."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs["error_messages"] = {
            "invalid": gettext("This day cannot be read. Pick it, or type year-month-day, for example 2027-05-03."),
            "required": gettext("Pick the day, or type it, for example 2027-05-03."),
        } | kwargs.get("error_messages", {})
        super().__init__(
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
            validators=[
                MinValueValidator(PAPER_DAYS.first, PAPER_DAYS.too_early),
                MaxValueValidator(PAPER_DAYS.last, PAPER_DAYS.too_late),
            ],
            **kwargs,
        )


_PERCENT = gettext_lazy("Type the tax in percent, from 0 to 100, or leave it empty.")


class CodedForm(OrgModelForm):
    """A row with a short name that is given once, when it is made: of the name, where nobody types one."""

    folded = ("Short name",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)
        code = self.fields["code"]
        if self.instance.pk:
            del self.fields["code"]
        else:
            code.label = gettext("Short name")
            example = in_units(self.example, self.organisation.unit_system)
            code.required = False
            code.help_text = gettext("Left empty, one is made of the name, for example %(example)s. It stays.") % {
                "example": example
            }
            code.error_messages |= {
                "invalid": gettext("Use letters a to z, figures and hyphens, for example %(example)s.")
                % {"example": example}
            }
            self.groups = [*self.groups, (gettext("Short name"), ["code"])]

    def clean_code(self) -> str:
        code = self.cleaned_data["code"].lower()
        if code in RESERVED:
            raise forms.ValidationError(
                gettext("“%(code)s” is a word of an address here. Type another short name.") % {"code": code}
            )
        if self._meta.model.objects.of(self.organisation).filter(code=code).exists():
            raise forms.ValidationError(
                gettext("“%(code)s” is taken already. Type another short name.") % {"code": code}
            )
        return code


class YieldField(DecimalFormField):
    """Megapascals, or nothing. The bounds catch ksi and psi typed for MPa."""

    widget = forms.TextInput
    least, most = YIELD_LEAST, YIELD_MOST

    def __init__(self, **kwargs: Any) -> None:
        bounds = ByUnits(
            gettext_noop("Type a yield from 100 to 1500 MPa. 50 ksi is 345 MPa, 30 ksi is 207 MPa."),
            gettext_noop("Type a yield from 100 to 1500 MPa. Mild steel is often 235 MPa."),
        )
        super().__init__(
            label=gettext_lazy("Stated yield strength, MPa"),
            required=False,
            help_text=YIELD_HELP,
            validators=[MinValueValidator(self.least), MaxValueValidator(self.most)],
            error_messages=dict.fromkeys(
                ("invalid", "max_digits", "max_decimal_places", "max_whole_digits"),
                gettext_lazy("Type the yield in MPa as a plain number, for example 345."),
            )
            | dict.fromkeys(("min_value", "max_value"), bounds),
            max_digits=7,
            decimal_places=2,
            **kwargs,
        )
        self.widget.attrs |= {"inputmode": "decimal", "autocomplete": "off"}


class MaterialForm(CodedForm):
    example = ByUnits("rail-1-3-8", "tube-33-7")
    groups = [
        (gettext_lazy("Sizes"), ["width", "thickness", "swaged", "note"]),
        (gettext_lazy("Strength of a tube"), ["yield_mpa", "yield_source"]),
        (gettext_lazy("Tax"), ["tax_percent"]),
    ]

    yield_mpa = YieldField()

    class Meta:
        model = Material
        fields = [
            *("name", "code", "kind", "width", "thickness", "swaged", "note", "yield_mpa", "yield_source"),
            "tax_percent",
        ]
        labels = {"name": gettext_lazy("Name"), "kind": gettext_lazy("Kind"), "note": gettext_lazy("Note")}
        help_texts = {
            "thickness": ByUnits(
                gettext_noop("Tube: wall. Lumber: thickness. Film: with its unit, for example 6 mil or 150 µm."),
                gettext_noop("Tube: wall. Lumber: thickness. Film: with its unit, for example 150 µm or 0.15 mm."),
            )
        }
        error_messages = {
            "name": {
                "required": ByUnits(
                    gettext_noop("Type what it is called, for example 1-3/8 in fence top rail."),
                    gettext_noop("Type what it is called, for example 33.7 mm tube."),
                )
            },
            "kind": {"required": gettext_lazy("Choose what kind of material it is.")},
            "tax_percent": dict.fromkeys(("invalid", "min_value", "max_value"), _PERCENT),
        }

    def _get_validation_exclusions(self) -> set[str]:
        """Whether the wall fits is left to the services, which say so at the field."""
        return super()._get_validation_exclusions() | {"thickness"}


class SupplierForm(CodedForm):
    example = "hilltop-pipe"
    groups = [(gettext_lazy("Delivery"), ["delivery_charge", "free_delivery_from", "minimum_order"])]

    delivery_charge = MoneyField(
        label=gettext_lazy("Charge for one delivery"), places=2, empty_value=Decimal(0), required=False
    )
    free_delivery_from = MoneyField(
        label=gettext_lazy("Delivery is free from"),
        places=2,
        required=False,
        help_text=gettext_lazy("Leave empty where it is never free."),
    )
    minimum_order = MoneyField(
        label=gettext_lazy("Smallest order it takes"), places=2, empty_value=Decimal(0), required=False
    )

    class Meta:
        model = Supplier
        fields = [
            "name",
            "code",
            "contact",
            "address",
            "delivery_charge",
            "free_delivery_from",
            "minimum_order",
        ]
        labels = {"name": gettext_lazy("Name"), "contact": gettext_lazy("Contact"), "address": gettext_lazy("Address")}
        widgets = {"address": forms.Textarea(attrs={"rows": 3})}
        error_messages = {"name": {"required": gettext_lazy("Type what the supplier is called.")}}


class OfferForm(AsksOnce, OrgModelForm):
    pack = CountField(
        label=gettext_lazy("Pieces in a pack"),
        initial=1,
        help_text=gettext_lazy("Only whole packs are ordered. Type 1 where single pieces are sold."),
    )
    lead_days = CountField(
        label=gettext_lazy("Days from order to delivery"),
        least=0,
        most=MAX_LEAD_DAYS,
        required=False,
        help_text=gettext_lazy("Ask the supplier. Left empty it is not known, and plans that rely on it say so."),
    )
    valid_until = DayField(
        label=gettext_lazy("Valid until"), required=False, help_text=gettext_lazy("Leave empty while it has no end.")
    )

    class Meta:
        model = Offer
        fields = ["material", "length", "pack", "lead_days", "valid_until", "supplier_code", "listed_as"]
        labels = {"material": gettext_lazy("Material")}
        error_messages = {"material": {"required": gettext_lazy("Choose the material.")}}

    typed_beside = ("prices",)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        shown = self.fields["material"]
        shown.queryset = materials_in_use(shown.queryset, own=[self.instance.material_id])

    def display_values(self, row: Offer) -> dict[str, str]:
        """Its prices too, though they are typed beside the form."""
        prices = row.breaks.order_by("from_quantity")
        return super().display_values(row) | {
            "prices": ", ".join(
                f"{format_decimal(said.unit_price.normalize())} from {format_count(said.from_quantity)}"
                for said in prices
            )
        }

    def ask_if_usual(self, prices: PriceRows) -> bool:
        """Asks of prices and a length far from usual, once both forms are right; what was stored is not asked."""
        material, length = self.cleaned_data["material"], self.cleaned_data["length"]
        known = usual_of(organisation=self.organisation, material=material)
        new = self.instance.pk is None
        kept = set() if new or "length" in self.changed_data else {row.unit_price for row in self.instance.breaks.all()}
        questions, at = {}, {}
        if new or "length" in self.changed_data:
            questions["length"] = length_question(material, length, known)
        for row in prices.forms:
            price = row.cleaned_data.get("unit_price")
            if price is not None and price not in kept:
                questions[row.prefix] = price_question(material, price, length, known)
                at[row.prefix] = (row, "unit_price")
        return self.ask(questions, at=at)


class LeadDaysForm(OrgForm):
    """One lead time for every offer of a supplier that has none."""

    days = CountField(label=gettext_lazy("Days from order to delivery"), least=0, most=730)


class PriceForm(OrgForm):
    """One row of an offer's prices; both fields or neither."""

    from_quantity = CountField(label=gettext_lazy("From how many pieces"), required=False)
    unit_price = MoneyField(label=gettext_lazy("Price of one piece"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        pair = {name: data.get(name) for name in ("from_quantity", "unit_price")}
        missing = [name for name, value in pair.items() if value is None and name not in self.errors]
        if len(missing) == 1 and not self.errors:
            sentences = {
                "from_quantity": gettext("Type from how many pieces this price holds."),
                "unit_price": gettext("Type the price of one piece, or empty the row."),
            }
            self.add_error(missing[0], sentences[missing[0]])
        return data


class PriceRows(forms.BaseFormSet):
    """The price rows of an offer; ``breaks()`` after ``is_valid()``."""

    def breaks(self) -> list[tuple[int, Decimal]]:
        rows = [form.cleaned_data for form in self.forms]
        return [(row["from_quantity"], row["unit_price"]) for row in rows if row.get("from_quantity") is not None]


def price_rows(data: Any, *, organisation: Any, offer: Offer | None) -> PriceRows:
    """A row for each price there is, and some empty ones."""
    there = [
        {"from_quantity": row.from_quantity, "unit_price": row.unit_price}
        for row in (offer.breaks.all() if offer else ())
    ]
    initial = there or [{"from_quantity": 1}]
    factory = forms.formset_factory(
        PriceForm,
        formset=PriceRows,
        extra=max(_SPARE_ROWS, _MIN_ROWS - len(initial)),
        max_num=_MAX_ROWS,
        absolute_max=_MAX_ROWS,
    )
    return factory(data, initial=initial, prefix="prices", form_kwargs={"organisation": organisation})
