"""Which labels, on which sheet."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from farmbuild.common.forms import OrgForm, RowsField
from farmbuild.stock.bridge import is_imperial
from farmbuild.stock.forms import PlainSelect
from farmbuild.stock.labels.sizes import LabelSize, size_named, sizes_for
from farmbuild.stock.models import Lot, Place


class LabelForm(OrgForm):
    """``lot`` are keys in the address, from a page of a lot; ``place`` is every lot that lies there."""

    place = forms.ModelChoiceField(
        Place.objects.all(), label=_("Lots of"), required=False, empty_label=_("Choose a place"), widget=PlainSelect
    )
    size = forms.ChoiceField(label=_("Sheet"), required=False, widget=PlainSelect)
    lot = RowsField(Lot.objects.all(), required=False, widget=forms.MultipleHiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sizes = sizes_for(imperial=is_imperial(self.organisation))
        self.fields["size"].choices = [(size.slug, size.name) for size in sizes]
        self.usual = sizes[0]

    def chosen_size(self) -> LabelSize:
        data = self.cleaned_data if self.is_valid() else {}
        return size_named(data.get("size") or "") or self.usual
