"""Which span is asked for."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils.translation import gettext_lazy

from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.hoops.benders.bridge import INCH


class ForSpanForm(OrgForm):
    post_span = LengthFormField(
        label=gettext_lazy("Span between the posts"), minimum=INCH, help_text=gettext_lazy("Centre to centre.")
    )
    height = LengthFormField(
        label=gettext_lazy("Least height in the middle"),
        required=False,
        help_text=gettext_lazy("From the ground. Leave it empty where any height will do."),
    )
    post_height = LengthFormField(
        label=gettext_lazy("Posts above the ground"),
        required=False,
        help_text=gettext_lazy("Where the hoops end; empty: on the ground."),
    )
    insertion = LengthFormField(
        label=gettext_lazy("Insertion at each joint"),
        small=True,
        required=False,
        help_text=gettext_lazy("How far the swaged end slides in. Empty: as usual."),
    )

    @property
    def least_rise(self) -> Decimal:
        """What the hoop has to rise over the posts; the form is valid."""
        zero = Decimal(0)
        return max(zero, (self.cleaned_data["height"] or zero) - (self.cleaned_data["post_height"] or zero))

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        for name in ("height", "post_height", "insertion"):
            data.setdefault(name, None)
        return data
