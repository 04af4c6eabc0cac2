"""Forms of drafts. What may be stored is decided by the services."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.buying.drafting.words import offer_words
from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine
from farmbuild.catalogue.fields import CountField, MoneyField, use_organisation
from farmbuild.catalogue.forms import DayField
from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.catalogue.usual import length_question, price_question, usual_of
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.sure import AsksOnce
from farmbuild.measure import format_count
from farmbuild.orgs.clock import today
from farmbuild.sites.models import Site
from farmbuild.stock.forms import PlainSelect, grouped_materials

#: Wanted in so many days, until someone says otherwise.
USUAL_DAYS = 14


def _sites() -> Any:
    return Site.objects.filter(archived_at=None)


class OfferChoice(forms.ModelChoiceField):
    def label_from_instance(self, obj: Offer) -> str:
        return offer_words(obj, self.organisation)


class _HeadForm(OrgModelForm):
    delivery_site = forms.ModelChoiceField(
        _sites(),
        label=gettext_lazy("Deliver to"),
        error_messages={"required": gettext_lazy("Choose the site to deliver to.")},
    )
    need_by = DayField(
        label=gettext_lazy("Wanted by"),
        initial=lambda: today() + timedelta(days=USUAL_DAYS),
        error_messages={"required": gettext_lazy("Type the day by which it is wanted.")},
    )

    class Meta:
        model = PurchaseOrder
        fields = ["delivery_site", "need_by", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if self.initial.get("need_by") is None:
            # Of an order that is not there yet, which knows no day: the field has the usual one.
            self.initial.pop("need_by", None)
        self.fields["note"].help_text = gettext("Stands on the order sheet.")


class NewOrderForm(_HeadForm):
    supplier = forms.ModelChoiceField(Supplier.objects.all(), label=gettext_lazy("Supplier"))
    field_order = ["supplier", "delivery_site", "need_by", "note"]


class HeadForm(_HeadForm):
    agreed = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)
    needs_opened_values = True


class LineParts(OrgForm):
    """What a line has that is new or split off."""

    quantity = CountField(label=gettext_lazy("Pieces"))
    delivery_site = forms.ModelChoiceField(_sites(), label=gettext_lazy("Deliver to"), required=False)
    need_by = DayField(label=gettext_lazy("Wanted by"))

    def __init__(self, *args: Any, order: PurchaseOrder, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["delivery_site"].empty_label = gettext("Where the order goes: %(delivery_site)s") % {
            "delivery_site": order.delivery_site
        }
        self.fields["need_by"].initial = order.need_by


class NewLineForm(AsksOnce, LineParts):
    offer = OfferChoice(
        Offer.objects.none(),
        label=gettext_lazy("Offer"),
        required=False,
        empty_label=gettext_lazy("Not on offer: choose a material below"),
        widget=PlainSelect,
    )
    material = forms.ModelChoiceField(Material.objects.all(), label=gettext_lazy("Material"), required=False)
    length = LengthFormField(label=gettext_lazy("Length of one piece"), required=False)
    unit_price = MoneyField(label=gettext_lazy("Price of one"), required=False)
    field_order = ["offer", "quantity", "delivery_site", "need_by", "material", "length", "unit_price"]
    groups = [(gettext_lazy("What is not on offer"), ["material", "length", "unit_price"])]

    def __init__(self, *args: Any, offers: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["offer"].organisation = self.organisation
        self.fields["offer"].queryset = offers
        self.fields["quantity"].help_text = gettext("Where it is sold in packs, whole packs.")
        self.fields["material"].choices = grouped_materials(self.organisation)
        self.fields["length"].help_text = gettext("Leave empty for counted things.")
        use_organisation(self, self.organisation)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        material, length = data.get("material"), data.get("length")
        if material and not data.get("offer"):
            known = usual_of(organisation=self.organisation, material=material)
            self.ask(
                {
                    "length": length_question(material, length, known),
                    "unit_price": price_question(material, data.get("unit_price"), length, known),
                }
            )
        return data


class LineForm(AsksOnce, OrgModelForm):
    quantity = CountField(label=gettext_lazy("Pieces"))
    delivery_site = forms.ModelChoiceField(_sites(), label=gettext_lazy("Deliver to"), required=False)
    need_by = DayField(label=gettext_lazy("Wanted by"))
    unit_price = MoneyField(label=gettext_lazy("Price of one"))
    agreed = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)
    needs_opened_values = True

    class Meta:
        model = PurchaseOrderLine
        fields = ["quantity", "delivery_site", "need_by", "unit_price"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        line = self.instance
        self.fields["delivery_site"].empty_label = gettext("Where the order goes: %(delivery_site)s") % {
            "delivery_site": line.order.delivery_site
        }
        if line.offer_id:
            del self.fields["unit_price"]
        if line.pack > 1:
            self.fields["quantity"].help_text = gettext("Sold in packs of %(pack)s.") % {
                "pack": format_count(line.pack)
            }
        use_organisation(self, self.organisation)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if "unit_price" in self.changed_data:
            material, length = self.instance.material, self.instance.length
            known = usual_of(organisation=self.organisation, material=material)
            self.ask({"unit_price": price_question(material, data.get("unit_price"), length, known)})
        return data


class SplitForm(LineParts):
    agreed = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)

    def __init__(self, *args: Any, line: PurchaseOrderLine, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].label = gettext("Pieces on the new line")
        self.fields["need_by"].initial = line.need_by
        self.fields["delivery_site"].required, self.fields["delivery_site"].empty_label = True, None


class RemoveForm(OrgForm):
    seen = forms.IntegerField(widget=forms.HiddenInput)
    agreed = forms.CharField(widget=forms.HiddenInput, required=False, max_length=64)


class JoinForm(OrgForm):
    other = forms.ModelChoiceField(
        PurchaseOrder.objects.none(), label=gettext_lazy("Order whose lines are added"), to_field_name="number"
    )

    def __init__(self, *args: Any, drafts: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["other"].queryset = drafts
