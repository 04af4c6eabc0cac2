"""Forms of joint orders. What may be stored is decided by the services."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any
from uuid import uuid4

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.fields import CountField
from farmbuild.catalogue.forms import DayField
from farmbuild.catalogue.models import Material
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.coop.joint.handing import HandingRow
from farmbuild.coop.joint.presenters.collecting import OfferedPlan
from farmbuild.coop.joint.words import item_words
from farmbuild.coop.models import JointMember, JointOrder
from farmbuild.crew.models import Member
from farmbuild.measure import format_count
from farmbuild.orgs.clock import today
from farmbuild.sites.models import Site
from farmbuild.stock.forms import ask_by_kind, grouped_materials

#: Until somebody says otherwise: so many days for members to say what they need, and for the goods to come.
USUAL_DAYS, USUAL_COMING = 14, 28


class JointForm(OrgModelForm):
    closes_on = DayField(label=_("Closing day"), initial=lambda: today() + timedelta(days=USUAL_DAYS))
    need_by = DayField(label=_("Wanted by"), initial=lambda: today() + timedelta(days=USUAL_COMING))
    delivery_site = forms.ModelChoiceField(Site.objects.filter(archived_at=None), label=_("Deliver to"))
    needs_opened_values = True

    class Meta:
        model = JointOrder
        fields = ["title", "closes_on", "need_by", "delivery_site", "damage_rule", "note"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["title"].help_text = gettext("For example: rail and pipe for spring.")
        self.fields["closes_on"].help_text = gettext("Members change what they need until this day is over.")
        self.fields["damage_rule"].label = gettext("Who bears damaged pieces")
        self.fields["note"].help_text = gettext("Members read it.")


class Item(OrgForm):
    """A material, and how long a piece of it is."""

    material = forms.ModelChoiceField(Material.objects.all(), label=_("Material"))
    length = LengthFormField(
        label=_("Length of one piece"), required=False, help_text=_("Leave empty for counted things.")
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["material"].choices = grouped_materials(self.organisation)
        ask_by_kind(self)


class NeedsForm(Item):
    """How many pieces of one material each member needs: a box a member, empty for none."""

    def __init__(self, *args: Any, members: Iterable[Member], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.members = {f"pieces-{member.pk}": member for member in members}
        for name, member in self.members.items():
            self.fields[name] = CountField(label=member.name, least=0, required=False)
            # Says "optional" nowhere: what is needed is asked of somebody, not of everybody.
            self.fields[name].wanted = True
        self.groups = [(gettext("Pieces of each member"), [*self.members])]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        wanted = {member: data.pop(name, None) for name, member in self.members.items()}
        data["pieces"] = {member: pieces for member, pieces in wanted.items() if pieces is not None}
        if not self.errors and not data["pieces"]:
            raise ValidationError(gettext("Type the pieces of one member at least."))
        return data


class OwnNeedForm(Item):
    """What the member who signs in needs of one material."""

    quantity = CountField(label=_("Pieces"))


class TakeOverForm(OrgForm):
    """Where pieces lie that a farm takes into its own stock."""

    place = forms.CharField(label=_("Where it lies"), max_length=80, help_text=_("For example: Barn rack."))
    day = DayField(label=_("Came on"), initial=today)


class PiecesForm(OrgForm):
    """Another number of pieces for a need that stands already."""

    quantity = CountField(label=_("Pieces"))


class CollectForm(OrgForm):
    """A tick a member; what was shown beside it is put in, and nothing else."""

    def __init__(self, *args: Any, offered: Iterable[OfferedPlan], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.offered = {f"plan-{each.member.pk}": each for each in offered}
        for name, each in self.offered.items():
            self.fields[name] = forms.BooleanField(label=each.words, required=False, initial=True)
            seen = forms.CharField(widget=forms.HiddenInput, required=False, max_length=200, initial=each.seen)
            self.fields[f"seen-{name}"] = seen

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        ticked = [(name, each) for name, each in self.offered.items() if data.get(name)]
        wanted = [(each.member, each.plan, data.get(f"seen-{name}", "")) for name, each in ticked]
        if not wanted:
            raise ValidationError(gettext("Tick one member at least."))
        return {"wanted": wanted}


class SeenForm(OrgForm):
    """Carries what its page showed, so that only that is done."""

    seen = forms.CharField(widget=forms.HiddenInput, max_length=200)

    def shown(self, seen: str) -> SeenForm:
        """With what is shown now; a refusal stays said, and the next press is of this page."""
        if self.is_bound:
            self.data = self.data.copy()
            self.data["seen"] = seen
        else:
            self.initial["seen"] = seen
        return self


class ChargeForm(SeenForm):
    day = DayField(label=_("Charged on"), initial=today)


class HandOutForm(OrgForm):
    """A box a row that waits: ``rows`` of handing, whose need names the box."""

    day = DayField(label=_("Handed out on"), initial=today)
    signed = forms.CharField(label=_("Signed for by"), max_length=120, required=False)
    press = forms.CharField(max_length=40, widget=forms.HiddenInput, initial=lambda: str(uuid4()))

    def __init__(self, *args: Any, rows: Iterable[HandingRow], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.boxes = {f"pieces-{row.need.pk}": row for row in rows}
        for name, row in self.boxes.items():
            words = item_words(row.need.material, row.need.length, self.organisation)
            most = min(row.left, row.there)
            self.fields[name] = CountField(
                label=gettext("%(words)s, pieces") % {"words": words}, least=0, required=False, initial=most
            )
            self.fields[name].wanted = True
            if row.there < row.left:
                self.fields[name].help_text = gettext("%(there)s of %(left)s lie in stock.") % {
                    "there": format_count(row.there),
                    "left": format_count(row.left),
                }
        self.order_fields([*self.boxes, "day", "signed", "press"])

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        typed = {row.need.pk: data.pop(name, None) for name, row in self.boxes.items()}
        data["pieces"] = {need: pieces for need, pieces in typed.items() if pieces}
        if not self.errors and not data["pieces"]:
            raise ValidationError(gettext("Type the pieces of one material at least."))
        return data


class PlacesForm(OrgForm):
    """In which order members are listed: a box each, with its place from 1 on."""

    def __init__(self, *args: Any, listed: Iterable[JointMember], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.listed = {f"place-{row.member_id}": row for row in listed}
        for at, (name, row) in enumerate(self.listed.items(), 1):
            self.fields[name] = CountField(label=str(row.member), most=len(self.listed), initial=at)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        taken: dict[int, str] = {}
        for name, place in [*data.items()]:
            if place in taken:
                self.add_error(
                    name, gettext("%(member)s has this place already.") % {"member": self.listed[taken[place]].member}
                )
            taken.setdefault(place, name)
        names = sorted(self.listed, key=lambda name: data.get(name) or 0)
        return {"members": [self.listed[name].member_id for name in names]}


class BackForm(OrgForm):
    reason = forms.CharField(label=_("Why"), max_length=200)

    def __init__(self, *args: Any, example: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].error_messages["required"] = gettext(
            "Say why in a few words, for example: %(example)s."
        ) % {"example": example}
