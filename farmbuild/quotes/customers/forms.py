"""The form of a customer."""

from __future__ import annotations

from django import forms
from django.utils.translation import gettext_lazy

from farmbuild.common.forms import OrgModelForm
from farmbuild.quotes.models import Customer


class CustomerForm(OrgModelForm):
    class Meta:
        model = Customer
        fields = ["name", "contact", "email", "phone", "address", "note"]
        labels = {
            "name": gettext_lazy("Name"),
            "email": gettext_lazy("E-mail"),
            "phone": gettext_lazy("Phone"),
            "address": gettext_lazy("Address"),
            "note": gettext_lazy("Note"),
        }
        widgets = {"address": forms.Textarea(attrs={"rows": 3}), "note": forms.Textarea(attrs={"rows": 3})}
        error_messages = {"name": {"required": gettext_lazy("Type what the customer is called.")}}
