"""What holds for a whole invoice. What may be stored is decided by the services."""

from __future__ import annotations

from decimal import Decimal
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.invoices.services import Paper
from farmbuild.catalogue.fields import MoneyField, use_organisation
from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.measure import places
from farmbuild.orgs.clock import today


class _PaperForm(OrgForm):
    #: Words after the names of delivery and tax.
    done = ""

    number = forms.CharField(
        label=gettext_lazy("Number of the invoice"),
        max_length=60,
        error_messages={"required": gettext_lazy("Type the number of the invoice.")},
    )
    invoiced_on = DayField(label=gettext_lazy("Date of the invoice"), initial=today)
    delivery = MoneyField(label=gettext_lazy("Delivery"), required=False)
    tax = MoneyField(label=gettext_lazy("Tax"), required=False)
    total = MoneyField(
        label=gettext_lazy("Total"), required=False, help_text=gettext_lazy("As printed. Empty: as it adds up.")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["tax"].label = self.organisation.tax_name or gettext("Tax")
        for name in ("delivery", "tax"):
            self.fields[name].label = f"{self.fields[name].label}{self.done}"
        for name in ("delivery", "tax", "total"):
            self.fields[name].places = places(self.organisation.currency)
            self.fields[name].widget.attrs["data-places"] = places(self.organisation.currency)
        use_organisation(self, self.organisation)

    def paper(self, *, tax_included: bool, recovered: bool | None = None) -> Paper:
        data = self.cleaned_data
        return Paper(
            number=data["number"],
            invoiced_on=data["invoiced_on"],
            delivery=data["delivery"] or Decimal(0),
            tax=data["tax"] or Decimal(0),
            total=data["total"],
            tax_included=tax_included,
            recovered=recovered,
        )


class InvoiceForm(_PaperForm):
    tax_included = forms.BooleanField(label=gettext_lazy("The prices billed have the tax in them"), required=False)
    recovered = forms.BooleanField(
        label=gettext_lazy("You get this tax back"),
        required=False,
        help_text=gettext_lazy("Then it is no cost of the goods."),
    )
    token = forms.CharField(max_length=36, widget=forms.HiddenInput, initial=lambda: str(uuid4()))


class CreditForm(_PaperForm):
    """Tax counts as it does on the invoice."""

    done = gettext_lazy(" credited")
    token = forms.CharField(max_length=36, widget=forms.HiddenInput, initial=lambda: str(uuid4()))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name, label in (
            ("number", gettext("Number of the credit note")),
            ("invoiced_on", gettext("Date of the credit note")),
        ):
            self.fields[name].label = label
        self.fields["number"].error_messages["required"] = gettext("Type the number of the credit note.")


class WithReceiptForm(_PaperForm):
    """Of the invoice that came with the goods; nothing is asked while its number is empty."""

    prefix = "invoice"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["number"].required = False
        self.fields["invoiced_on"].required = False

    @property
    def wanted(self) -> bool:
        return bool(self.cleaned_data.get("number"))

    @property
    def opened(self) -> bool:
        return self.is_bound and any(self[name].data for name in ("number", "delivery", "tax", "total"))

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        typed = any(data.get(name) is not None for name in ("delivery", "tax", "total"))
        if typed and not data.get("number") and "number" not in self.errors:
            self.add_error("number", gettext("Type the number of the invoice, or empty delivery, tax and total."))
        if data.get("number") and not data.get("invoiced_on") and "invoiced_on" not in self.errors:
            self.add_error("invoiced_on", gettext("Pick the day, or type it, for example 2027-05-03."))
        return data


class CheckForm(OrgForm):
    words = forms.CharField(
        label=gettext_lazy("What came of it"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say what came of it, for example: credit note promised.")},
    )
