"""Forms of lots and places. What may be stored is decided by the services and models."""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import CountField, MoneyField, use_organisation
from farmbuild.catalogue.forms import DayField
from farmbuild.catalogue.models import MAX_QUANTITY, Material
from farmbuild.catalogue.selectors import materials_of
from farmbuild.catalogue.usual import length_question, price_question, usual_of
from farmbuild.common.forms import OrgForm, OrgModelForm
from farmbuild.common.speaking import said
from farmbuild.common.sure import AsksOnce
from farmbuild.measure import amounts_shown, count_noun
from farmbuild.measure.senses import PIECES
from farmbuild.orgs.clock import today
from farmbuild.sites.house_choice import HouseChoiceField
from farmbuild.sites.models import Site
from farmbuild.stock.import_rows import MAX_BYTES as MAX_IMPORT_BYTES
from farmbuild.stock.import_rows import MAX_ROWS as MAX_IMPORT_ROWS
from farmbuild.stock.models import CostShare, Lot, Place
from farmbuild.stock.piles.selectors import Coming, coming_of
from farmbuild.stock.selectors import members_of, places_of


def paper_field() -> forms.CharField:
    return forms.CharField(
        label=gettext_lazy("Paper"),
        max_length=80,
        required=False,
        help_text=gettext("The delivery note, order or sheet that says so, if there is one."),
    )


class PlaceInput(forms.TextInput):
    """A text box that offers the places there are; another name makes a new place."""

    template_name = "stock/place_input.html"
    places: tuple[str, ...] = ()

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        widget = context["widget"]
        widget["list_id"] = f"{widget['attrs'].get('id', name)}_list"
        widget["attrs"] |= {"list": widget["list_id"], "autocomplete": "off"}
        widget["places"] = self.places
        return context


def place_field(**kwargs: Any) -> forms.CharField:
    return forms.CharField(
        label=gettext_lazy("Place"),
        max_length=80,
        widget=PlaceInput,
        error_messages={"required": gettext_lazy("Type where it lies, for example Barn rack.")},
        **kwargs,
    )


def site_field() -> forms.ModelChoiceField:
    return forms.ModelChoiceField(
        Site.objects.filter(archived_at=None),
        label=gettext_lazy("Site of a new place"),
        required=False,
        empty_label=gettext_lazy("No site"),
        help_text=gettext("Only for a place that is not on the list yet."),
    )


def offer_places(form: OrgForm | OrgModelForm) -> None:
    names = places_of(organisation=form.organisation).values_list("name", flat=True)
    form.fields["place_name"].widget.places = tuple(names)


def offer_owners(form: OrgForm | OrgModelForm, nobody: str) -> None:
    """Members to choose from; where there are none nothing is asked."""
    rows = members_of(organisation=form.organisation)
    if rows.exists():
        form.fields["owner"].queryset, form.fields["owner"].empty_label = rows, nobody
    else:
        del form.fields["owner"]


def grouped_materials(
    organisation: Any, *, rows: Iterable[Material] | None = None, by_length: bool = False
) -> list[tuple[str, list[tuple[str, str]]]]:
    """Choices of materials under their kinds: of ``rows``, or all; those that come by length alone."""
    groups: dict[str, list[tuple[str, str]]] = {}
    for material in materials_of(organisation=organisation) if rows is None else rows:
        if material.by_length or not by_length:
            groups.setdefault(material.get_kind_display(), []).append((str(material.pk), material.name))
    return [("", gettext("Choose a material")), *groups.items()]


def ask_by_kind(form: OrgForm | OrgModelForm) -> None:
    """The length of one piece is asked about where no piece of the chosen material is so long or short."""
    chosen = form.data.get(form.add_prefix("material"), "")
    if chosen.isdecimal() and len(chosen) < 19:
        kind = Material.objects.of(form.organisation).filter(pk=chosen).values_list("kind", flat=True).first()
        if kind in PIECES:
            form.fields["length"].sense, form.fields["length"].cut_of = PIECES[kind], kind


class ReceiveForm(AsksOnce, OrgModelForm):
    """A lot that has come in. ``place_name`` and ``site`` are for place_named, the rest for receive_lot."""

    quantity = CountField(label=gettext_lazy("How many pieces"))
    place_name = place_field(help_text=gettext_lazy("One of your places, or a new name."))
    site = site_field()
    unit_cost = MoneyField(label=gettext_lazy("Cost of one piece"), required=False, empty_value=Decimal(0))
    received_on = DayField(label=gettext_lazy("Received on"), initial=today)
    paper = paper_field()
    groups = [
        (gettext_lazy("What came in"), ["material", "length", "quantity", "offcut"]),
        (gettext_lazy("Where it lies"), ["place_name", "site"]),
        (gettext_lazy("Where it came from"), ["owner", "supplier", "unit_cost", "received_on", "paper", "reference"]),
    ]

    class Meta:
        model = Lot
        fields = ["material", "length", "offcut", "unit_cost", "supplier", "received_on", "reference", "owner"]
        error_messages = {"material": {"required": gettext_lazy("Choose the material.")}}
        help_texts = {
            "reference": gettext_lazy(
                "Paper number or your own mark. Left empty, the next number is given, such as L-0001."
            ),
            "owner": gettext_lazy("A member's own pieces have no cost here, and go out with leave alone."),
        }

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        use_organisation(self, self.organisation)
        offer_places(self)
        self.fields["material"].choices = grouped_materials(self.organisation)
        self.fields["supplier"].empty_label = gettext("Not known")
        offer_owners(self, gettext("Ours"))
        self.fields["reference"].required = False
        ask_by_kind(self)

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if material := data.get("material"):
            known = usual_of(organisation=self.organisation, material=material)
            whole = None if data.get("offcut") else data.get("length")
            self.ask(
                {
                    "length": length_question(material, whole, known),
                    "unit_cost": price_question(material, data.get("unit_cost"), data.get("length"), known),
                }
            )
        return data

    def clean_reference(self) -> str:
        return _free_reference(self)

    def clean_place_name(self) -> str:
        return " ".join(self.cleaned_data["place_name"].split())

    def _post_clean(self) -> None:
        """A length that cannot be read is not also said to be missing."""
        errors = self.errors.get("length")
        kept = list(errors.data) if errors else None
        super()._post_clean()
        if kept:
            errors.data[:] = kept


class LotForm(AsksOnce, OrgModelForm):
    """What may be put right after receipt. Where it lies changes by a movement."""

    unit_cost = MoneyField(label=gettext_lazy("Cost of one piece"), required=False, empty_value=Decimal(0))
    reason = forms.CharField(
        label=gettext_lazy("Why it costs something else"),
        max_length=200,
        required=False,
        help_text=gettext_lazy(
            "Only where the cost changes. It counts for the pieces on hand; what went out keeps its cost."
        ),
    )
    received_on = DayField(label=gettext_lazy("Received on"))

    class Meta:
        model = Lot
        fields = ["reference", "supplier", "unit_cost", "received_on", "offcut"]
        error_messages = {"reference": {"required": gettext_lazy("Type a reference; every lot has one.")}}

    field_order = ["reference", "supplier", "unit_cost", "reason", "received_on", "offcut"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not amounts_shown():
            del self.fields["unit_cost"], self.fields["reason"]
        use_organisation(self, self.organisation)
        self.fields["supplier"].empty_label = gettext("Not known")

    clean_reference = ReceiveForm.clean_reference

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if "unit_cost" in self.changed_data:
            if not (data.get("reason") or "").strip():
                self.add_error("reason", gettext("Say why it costs something else, for example: invoice came."))
            material, length = self.instance.material, self.instance.length
            known = usual_of(organisation=self.organisation, material=material)
            self.ask({"unit_cost": price_question(material, data.get("unit_cost"), length, known)})
        return data


def _free_reference(form: OrgModelForm) -> str:
    reference = form.cleaned_data["reference"]
    same = Lot.objects.of(form.organisation).filter(reference=reference).exclude(pk=form.instance.pk)
    if reference and same.exists():
        raise forms.ValidationError(
            gettext("There is a lot %(reference)s already. Type another reference.") % {"reference": reference}
        )
    return reference


class _ReasonForm(OrgForm):
    reason = forms.CharField(
        label=gettext_lazy("Why"),
        max_length=200,
        error_messages={"required": gettext_lazy("Say why in a few words, for example: bent twice.")},
    )
    paper = paper_field()


class CountForm(_ReasonForm):
    """``seen`` is the count in the books when the page was opened."""

    counted = CountField(label=gettext_lazy("Pieces counted"), least=0)
    seen = forms.IntegerField(widget=forms.HiddenInput, min_value=0, max_value=MAX_QUANTITY)
    field_order = ["counted", "reason", "paper", "seen"]

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["reason"].help_text = gettext("Needed when the count differs from the stock record.")


def house_field() -> HouseChoiceField:
    return HouseChoiceField(label=gettext_lazy("For which house"), empty_label=gettext_lazy("No house"))


class OfAJob(OrgForm):
    """May be for a job as a whole instead of a house; asks for it only where there are jobs, whose app is above."""

    job = forms.ModelChoiceField(
        CostShare._meta.get_field("job").related_model.objects.filter(archived_at=None),
        label=gettext_lazy("Or a job as a whole"),
        required=False,
        empty_label=gettext_lazy("No job"),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.fields["job"].queryset.exists():
            del self.fields["job"]


class ScrapForm(OfAJob, _ReasonForm):
    """With neither a house nor a job it is a general expense."""

    quantity = CountField(label=gettext_lazy("Pieces to scrap"))
    house = house_field()
    field_order = ["quantity", "reason", "house", "job", "paper"]


class PlaceForm(OrgModelForm):
    class Meta:
        model = Place
        fields = ["name", "site"]
        error_messages = {"name": {"required": gettext_lazy("Type what the place is called, for example Barn rack.")}}

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["site"].empty_label = gettext("No site")


class UploadForm(OrgForm):
    """A file with a table. ``most_rows``, ``most_mb``: what is said of it; rows are counted where they are read."""

    most_rows, most_mb = MAX_IMPORT_ROWS, MAX_IMPORT_BYTES // 1024**2
    purpose = gettext_lazy("Nothing is stored before you have seen every row.")
    file = forms.FileField(
        label=gettext_lazy("Spreadsheet or text file"),
        max_length=200,
        widget=forms.FileInput(attrs={"accept": ".xlsx,.csv"}),
        error_messages={
            "required": gettext_lazy("Choose the file to read."),
            "empty": gettext_lazy("This file is empty. Choose one with a row of headings and rows under it."),
        },
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Here, because numbers are written as the organisation writes them.
        self.fields["file"].help_text = gettext(
            ".xlsx or .csv with a row of headings, up to %(rows)s and %(size)s MB. %(purpose)s"
        ) % {"rows": said(count_noun(self.most_rows, "row")), "size": self.most_mb, "purpose": self.purpose}

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > self.most_mb * 1024**2:
            raise forms.ValidationError(
                gettext(
                    "This file is larger than %(most_mb)s MB. Split it into smaller files of at most %(most_rows)s."
                )
                % {"most_mb": self.most_mb, "most_rows": count_noun(self.most_rows, "row")}
            )
        return file


class PlainSelect(forms.Select):
    """Choices without groups, quickly."""

    template_name = "stock/select.html"


class LotFilter(OrgForm):
    """What narrows the list of lots; every field may be left out."""

    OFFCUTS = [
        ("", gettext_lazy("Whole and offcut")),
        ("only", gettext_lazy("Offcuts only")),
        ("none", gettext_lazy("No offcuts")),
    ]

    material = forms.ModelChoiceField(
        Material.objects.all(),
        to_field_name="code",
        required=False,
        empty_label=gettext_lazy("All materials"),
        label=gettext_lazy("Material"),
        widget=PlainSelect,
    )
    site = forms.ModelChoiceField(
        Site.objects.filter(archived_at=None),
        to_field_name="slug",
        required=False,
        empty_label=gettext_lazy("All sites"),
        label=gettext_lazy("Site"),
        widget=PlainSelect,
    )
    place = forms.ModelChoiceField(
        Place.objects.all(),
        label=gettext_lazy("Place"),
        required=False,
        empty_label=gettext_lazy("All places"),
        widget=PlainSelect,
    )
    offcuts = forms.ChoiceField(label=gettext_lazy("Offcuts"), choices=OFFCUTS, required=False)
    owner = forms.ModelChoiceField(
        Lot.objects.none(),
        to_field_name="slug",
        required=False,
        empty_label=gettext_lazy("All owners"),
        label=gettext_lazy("Owner"),
        widget=PlainSelect,
    )
    empty = forms.BooleanField(label=gettext_lazy("Empty lots too"), required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_owners(self, gettext("All owners"))

    def filter_rows(self, lots: Any) -> Any:
        """The lots that fit; what cannot be read narrows nothing."""
        data = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        if not data.get("empty"):
            lots = lots.filter(on_hand__gt=0)
        if material := data.get("material"):
            lots = lots.filter(material=material)
        if site := data.get("site"):
            lots = lots.filter(place__site=site)
        if place := data.get("place"):
            lots = lots.filter(place=place)
        if owner := data.get("owner"):
            lots = lots.filter(owner=owner)
        if offcuts := data.get("offcuts"):
            lots = lots.filter(offcut=offcuts == "only")
        return lots

    def coming(self) -> list[Coming]:
        """What is on order and fits: it lies in no place yet, and is no offcut."""
        data = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        if data.get("place") or data.get("owner") or data.get("offcuts") == "only":
            return []
        rows = coming_of(organisation=self.organisation, site=data.get("site"))
        material = data.get("material")
        return [row for row in rows if material is None or row.material == material.pk]
