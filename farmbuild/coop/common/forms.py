"""Forms of common stock. What may be stored is decided by the services."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.fields import CountField, MoneyField
from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OneLine, OrgForm, RowsField
from farmbuild.coop.joint.forms import Item
from farmbuild.crew.models import Member

#: Of a note or an answer, as the tables hold it.
MOST_WORDS = 200


class _Terms(OrgForm):
    """At which price, to whom and until when pieces are open."""

    price = MoneyField(label=_("Price of one piece"), required=False)
    members = RowsField(
        Member.objects.filter(archived_at=None),
        label=_("Open to"),
        required=False,
        widget=forms.CheckboxSelectMultiple,
        help_text=_("Tick nobody to open it to all members."),
    )
    until = DayField(label=_("Until"), required=False, help_text=_("The last day. Left empty, until you end it."))
    note = forms.CharField(
        label=_("Note"), max_length=MOST_WORDS, required=False, widget=OneLine, help_text=_("Members read it.")
    )


class OpenLotForm(_Terms):
    """Pieces of one lot."""

    quantity = CountField(label=_("Pieces"))
    field_order = ("quantity", "price")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"].help_text = gettext("Left empty, what one piece cost you.")


class OpenItemForm(_Terms, Item):
    """Pieces of one material and length, whichever lots they lie in."""

    quantity = CountField(label=_("Pieces"), help_text=_("Taken from the lots that came first; you are told which."))
    field_order = ("material", "length", "quantity", "price")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["price"].help_text = gettext("Left empty, what one piece of each lot cost you.")


class DeclineForm(OrgForm):
    reason = forms.CharField(
        label=_("Why not"),
        max_length=MOST_WORDS,
        widget=OneLine,
        help_text=_("The member reads it. For example: needed for the north house."),
        error_messages={"required": _("Say why in a few words, for example: needed for the north house.")},
    )


class WishForm(OrgForm):
    """What a member asks for of one offer."""

    quantity = CountField(label=_("Pieces"))
    note = forms.CharField(
        label=_("Note"),
        max_length=MOST_WORDS,
        required=False,
        widget=OneLine,
        help_text=_("For example: fetched on Friday."),
    )
