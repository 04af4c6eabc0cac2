"""Forms of pipe between members. What may be stored is decided by the services."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.catalogue.fields import CountField, MoneyField
from farmbuild.catalogue.forms import DayField
from farmbuild.common.forms import OrgForm
from farmbuild.coop.charges.forms import MoneyForm
from farmbuild.coop.joint.forms import Item
from farmbuild.coop.models import PipeLoan
from farmbuild.coop.pipe.own import member_called
from farmbuild.coop.pipe.selectors import lots_to_lend
from farmbuild.coop.pipe.services import NewPipe, NewReturn
from farmbuild.coop.pipe.words import lot_words
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today
from farmbuild.stock.models import Lot

KINDS = [
    ("lent", _("Lent, to come back")),
    ("present", _("Given as a present")),
    ("sold", _("Given for money")),
]
MEMBERS = Member.objects.filter(archived_at=None)


class LotChoice(forms.ModelChoiceField):
    """Says what is in each lot; ``whose``: and whose it is."""

    whose = True

    def label_from_instance(self, lot: Lot) -> str:
        return lot_words(lot, whose=self.whose)


class PipeForm(MoneyForm, Item):
    kind = forms.ChoiceField(
        label=_("What was agreed"),
        choices=KINDS,
        widget=forms.RadioSelect,
        initial="lent",
        error_messages={"required": _("Choose one of the three.")},
    )
    lot = LotChoice(
        Lot.objects.all(), label=_("Out of the common yard"), required=False, empty_label=_("From its own yard")
    )
    quantity = CountField(label=_("Pieces"))
    price = MoneyField(label=_("Price of one piece"), required=False, empty_value=Decimal(0))
    day = DayField(label=_("Day"), initial=today)
    back_until = DayField(label=_("Back by"), required=False)
    note = forms.CharField(label=_("Note"), max_length=200, required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["material"].required = False
        self.fields["material"].help_text = gettext("Leave it and the length empty where a lot says them.")
        self.fields["price"].help_text = gettext("Only of what is given for money.")
        self.fields["back_until"].help_text = gettext("Only of what is lent.")

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        kind, price, lot = data.get("kind"), data.get("price"), data.get("lot")
        typed = (data.get("material"), data.get("length"))
        if lot and any(typed) and typed != (lot.material, lot.length):
            self.add_error(
                "lot", gettext("This lot has another material or length than typed. Leave both empty for a lot.")
            )
        if not data.get("material") and not data.get("lot") and "material" not in self.errors:
            self.add_error("material", gettext("Choose the material, or the lot that it comes from."))
        if kind == "sold" and not price and "price" not in self.errors:
            self.add_error("price", gettext("Type the price of one piece."))
        if kind in ("lent", "present") and price:
            self.add_error(
                "price", gettext("Only what is given for money has a price. Choose that, or leave the price empty.")
            )
        return data

    def told(self, lender: Member, borrower: Member) -> NewPipe:
        """What it says, once it is valid."""
        data = self.cleaned_data
        kind = PipeLoan.Kind.LENT if data["kind"] == "lent" else PipeLoan.Kind.GIVEN
        named = ("material", "length", "quantity", "day", "price", "lot", "back_until", "note")
        return NewPipe(kind=kind, lender=lender, borrower=borrower, **{name: data[name] for name in named})


class BetweenForm(PipeForm):
    """By the manager, as both told it."""

    lender = forms.ModelChoiceField(MEMBERS, label=_("Who lends or gives it"))
    borrower = forms.ModelChoiceField(MEMBERS, label=_("Who gets it"))
    field_order = ("kind", "lender", "borrower", "lot", "material", "length", "quantity", "price", "day", "back_until")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["lot"].queryset = lots_to_lend(organisation=self.organisation)
        self.fields["note"].label, self.fields["note"].required = gettext("How they told it"), True
        self.fields["note"].error_messages["required"] = gettext(
            "Say how they told it, for example: both were here on Monday."
        )
        self.fields["note"].help_text = gettext("For example: both were here on Monday.")

    @property
    def new(self) -> NewPipe:
        return self.told(self.cleaned_data["lender"], self.cleaned_data["borrower"])


def known_names(field: forms.Field, names: Iterable[str]) -> None:
    said = ", ".join(names)
    field.help_text = gettext("Written as the cooperative writes it.")
    if said:
        field.help_text = gettext("Written as the cooperative writes it. So far: %(names)s.") % {"names": said}


class OwnPipeForm(PipeForm):
    """By one of the two; it names the other."""

    side = forms.ChoiceField(
        label=_("Who has lent or given it"),
        choices=[("us", _("We did")), ("them", _("The other member did"))],
        widget=forms.RadioSelect,
        initial="us",
        error_messages={"required": _("Choose one of the two.")},
    )
    other = forms.CharField(
        label=_("The other member"),
        max_length=120,
        error_messages={"required": _("Type the name of the other member.")},
    )
    field_order = ("side", "other", "kind", "lot", "material", "length", "quantity", "price", "day", "back_until")

    def __init__(self, *args: Any, member: Member, known: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.member = member
        lot = self.fields["lot"]
        lot.whose, lot.queryset = False, lots_to_lend(organisation=self.organisation, member=member)
        lot.label, lot.empty_label = gettext("Out of our lot in the common yard"), gettext("From our own yard")
        known_names(self.fields["other"], known)

    def clean_other(self) -> Member:
        return member_called(self.member, self.cleaned_data["other"])

    @property
    def new(self) -> NewPipe:
        other = self.cleaned_data["other"]
        ours = self.cleaned_data["side"] == "us"
        return self.told(self.member, other) if ours else self.told(other, self.member)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if data.get("side") == "them" and data.get("lot"):
            self.add_error("lot", gettext("What the other gave does not come out of your lot. Choose the first line."))
        return data


class _BackForm(OrgForm):
    """``loan``: with ``untold`` pieces. ``told``: by the manager. ``agreed``: it has to say how both agreed then."""

    agreed = True
    quantity = CountField(label=_("Pieces that came back"))
    day = DayField(label=_("Day"), initial=today)
    note = forms.CharField(label=_("Note"), max_length=200, required=False)
    into_lot = forms.BooleanField(label=_("They lie in the common yard again"), required=False)

    def __init__(self, *args: Any, loan: PipeLoan, told: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].initial = loan.untold
        if loan.lot_id is None:
            del self.fields["into_lot"]
        if told:
            self.fields["note"].label = gettext("How both told it")
            self.fields["note"].required = self.agreed
            self.fields["note"].error_messages["required"] = gettext("Say how both agreed, for example: by telephone.")
            self.fields["note"].help_text = gettext("For example: both were here on Monday.")

    @property
    def new(self) -> NewReturn:
        data = self.cleaned_data
        given = {name: data[name] for name in ("came", "material", "length") if name in data}
        given |= {name: data[name] for name in ("damaged", "price", "came_price", "into_lot") if data.get(name)}
        return NewReturn(quantity=data["quantity"], day=data["day"], note=data["note"], **given)


class SameBackForm(_BackForm):
    agreed = False
    damaged = CountField(label=_("Of them damaged"), least=0, required=False, initial=0)
    field_order = ("quantity", "damaged", "into_lot", "day", "note")


class OtherBackForm(_BackForm, MoneyForm, Item):
    """Prices for both, or none: pieces by pieces."""

    came = CountField(label=_("Pieces that came"))
    damaged = CountField(label=_("Of them damaged"), least=0, required=False, initial=0)
    price = MoneyField(label=_("Price of one that was lent"), required=False, empty_value=Decimal(0))
    came_price = MoneyField(label=_("Price of one that came"), required=False, empty_value=Decimal(0))
    field_order = (
        "material",
        "length",
        "came",
        "damaged",
        "quantity",
        "price",
        "came_price",
        "into_lot",
        "day",
        "note",
    )
    groups = [
        (_("What came"), ["material", "length", "came", "damaged", "into_lot"]),
        (_("What it settles"), ["quantity", "price", "came_price", "day", "note"]),
    ]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].label = gettext("Pieces of the loan that it settles")
        self.fields["price"].help_text = gettext(
            "By value, the difference is owed. Leave both empty for pieces by pieces."
        )
        if "into_lot" not in self.fields:
            self.groups = [(title, [name for name in names if name != "into_lot"]) for title, names in self.groups]


class MoneyBackForm(_BackForm, MoneyForm):
    price = MoneyField(label=_("Price of one piece"), error_messages={"required": _("Type the price of one piece.")})
    field_order = ("quantity", "price", "day", "note")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["quantity"].label = gettext("Pieces that do not come back")
        self.fields.pop("into_lot", None)

    def clean_price(self) -> Decimal:
        if not self.cleaned_data["price"]:
            raise ValidationError(gettext("Type a price above 0."))
        return self.cleaned_data["price"]


#: By how a loan is settled.
BACK_FORMS: dict[str, type[_BackForm]] = {"same": SameBackForm, "other": OtherBackForm, "money": MoneyBackForm}


class WhoseForm(OrgForm):
    """Pipe of one member, or of all."""

    member = forms.ModelChoiceField(
        Member.objects.all(), label=_("Member"), required=False, empty_label=_("All members"), to_field_name="slug"
    )


class OwnLeaveForm(OrgForm):
    """Who may take so many pieces of one's lot."""

    quantity = CountField(label=_("Pieces that may be taken"))
    other = forms.CharField(label=_("By which member"), max_length=120, required=False)
    until = DayField(label=_("Until"), required=False, help_text=_("The last day. Left empty, until you end it."))

    def __init__(self, *args: Any, member: Member, known: Iterable[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.member = member
        known_names(self.fields["other"], known)
        self.fields["other"].help_text += " " + gettext("Left empty, everybody may.")

    def clean_other(self) -> Member | None:
        typed = self.cleaned_data["other"]
        return member_called(self.member, typed) if typed.strip() else None


class ReasonForm(OrgForm):
    reason = forms.CharField(
        label=_("Why"),
        max_length=200,
        error_messages={"required": _("Say why in a few words, for example: it was told wrong.")},
    )
