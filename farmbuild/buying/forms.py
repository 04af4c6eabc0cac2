"""Forms of orders. What may be stored is decided by the services and models."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import uuid4

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.common.speaking import said_list
from farmbuild.orgs.clock import today
from farmbuild.stock.forms import PlaceInput, UploadForm
from farmbuild.stock.selectors import places_of
from farmbuild.workbooks.replies import MAX_LINES


class SendForm(OrgForm):
    sent_on = DayField(label=gettext_lazy("Goes out on"), initial=today)
    how = forms.CharField(
        label=gettext_lazy("How it goes out"),
        max_length=120,
        required=False,
        help_text=gettext_lazy("For example: by e-mail to the counter."),
    )

    def __init__(self, *args: Any, changed: Sequence[str] = (), **kwargs: Any) -> None:
        """``changed``: houses that have changed since the order was worked out; then it is asked once more."""
        super().__init__(*args, **kwargs)
        if changed:
            self.fields["as_it_is"] = forms.BooleanField(
                label=gettext("Send it as it is"),
                required=False,
                help_text=gettext("Worked out before %(changed)s changed.") % {"changed": said_list(changed)},
            )


class ReasonForm(OrgForm):
    reason = forms.CharField(label=gettext_lazy("Why"), max_length=200)

    def __init__(self, *args: Any, example: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].error_messages["required"] = gettext(
            "Say why in a few words, for example: %(example)s."
        ) % {"example": example}


class ReceiptForm(OrgForm):
    """What holds for the whole delivery; its lines are receipt_lines.LineEntry."""

    received_on = DayField(label=gettext_lazy("Came on"), initial=today)
    paper = forms.CharField(label=gettext_lazy("Number of the delivery note"), max_length=60, required=False)
    place = forms.CharField(
        label=gettext_lazy("Where it lies"),
        max_length=80,
        widget=PlaceInput,
        help_text=gettext_lazy("One of your places, or a new name. A line may lie elsewhere."),
        error_messages={"required": gettext_lazy("Type where it lies, for example Barn rack.")},
    )
    damaged_paid = forms.BooleanField(
        label=gettext_lazy("Damaged pieces are paid for all the same"),
        required=False,
        help_text=gettext_lazy(
            "Then they are a general expense. Else the supplier replaces or credits them, and they cost nothing."
        ),
    )
    token = forms.CharField(max_length=36, widget=forms.HiddenInput, initial=lambda: str(uuid4()))
    seen = forms.IntegerField(min_value=0, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        names = places_of(organisation=self.organisation).values_list("name", flat=True)
        self.fields["place"].widget.places = tuple(names)


class ReplyForm(UploadForm):
    """The order sheet as it came back."""

    most_rows, most_mb = MAX_LINES, 20
    purpose = gettext_lazy("Nothing is stored on the order before you have seen every difference.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].label = gettext("The sheet that came back")
