"""Forms of lists: the file or the pasted rows, and what the person says of its columns and of the whole."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import CountField
from farmbuild.catalogue.forms import DayField
from farmbuild.catalogue.lists.columns import PER_LABELS, Columns, labels
from farmbuild.catalogue.lists.rows import LEAVE_OUT, role_label
from farmbuild.catalogue.lists.services import MAX_BYTES, MAX_ROWS
from farmbuild.catalogue.lists.shown import letter
from farmbuild.catalogue.models import PriceList
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.measure import format_count
from farmbuild.measure.limits import MAX_LEAD_DAYS

MOST_TEXT = 1_000_000


class SendForm(OrgForm):
    """A file, or rows copied out of a spreadsheet or a letter."""

    file = forms.FileField(
        label=gettext_lazy("Spreadsheet or text file"),
        max_length=200,
        required=False,
        widget=forms.FileInput(attrs={"accept": ".xlsx,.csv,.txt"}),
        error_messages={"empty": gettext_lazy("This file is empty. Choose one with rows in it.")},
    )
    rows = forms.CharField(
        label=gettext_lazy("Or paste the rows"),
        required=False,
        max_length=MOST_TEXT,
        strip=False,
        widget=forms.Textarea(attrs={"rows": 8}),
        help_text=gettext_lazy("Copied from a spreadsheet, or typed with a semicolon between the cells."),
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["file"].help_text = gettext(
            ".xlsx or .csv, as the supplier sent it, up to %(most)s rows and %(value)s MB. Nothing is stored "
            "as a price before you have seen it."
        ) % {"most": format_count(MAX_ROWS), "value": MAX_BYTES // 1024**2}

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file and file.size > MAX_BYTES:
            raise forms.ValidationError(
                gettext("This file is larger than %(value)s MB. Send only the rows that you buy, at most %(max_rows)s.")
                % {"value": MAX_BYTES // 1024**2, "max_rows": format_count(MAX_ROWS)}
            )
        return file

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        file, rows = data.get("file"), (data.get("rows") or "").strip()
        if file and rows:
            self.add_error("rows", gettext("Send the file or the rows, not both. Empty this box, or choose no file."))
        elif not file and not rows and not self.errors:
            self.add_error("file", gettext("Choose the file, or paste the rows below."))
        return data


class ReadForm(OrgForm):
    """How the list is read. A field a column is named ``col-`` and its place."""

    head = CountField(
        label=gettext_lazy("Row of the headings"), least=0, most=1_048_576, help_text=gettext_lazy("0: it has none.")
    )
    per = forms.ChoiceField(label=gettext_lazy("A price is for"), choices=list(PER_LABELS.items()), required=False)
    length = LengthFormField(
        label=gettext_lazy("Length of one"),
        required=False,
        help_text=gettext_lazy("Where neither column nor name says it."),
    )
    lead = CountField(
        label=gettext_lazy("Days to deliver, of the whole list"),
        least=0,
        most=MAX_LEAD_DAYS,
        required=False,
        help_text=gettext_lazy("For rows that do not say. Left empty it is not known."),
    )
    since = DayField(label=gettext_lazy("Holds from"), required=False, help_text=gettext_lazy("Left empty: today."))
    until = DayField(label=gettext_lazy("Holds until"), required=False, help_text=gettext_lazy("Left empty: no end."))
    tax = forms.ChoiceField(label=gettext_lazy("Prices of the list are"), required=False)
    only_known = forms.BooleanField(label=gettext_lazy("Leave out every row of no known material"), required=False)

    def __init__(self, *args: Any, price_list: PriceList, columns: Columns, width: int, **kwargs: Any) -> None:
        said = price_list.said
        kwargs["initial"] = {name: said.get(name) for name in _PLAIN} | {"length": said.get("length")}
        kwargs["initial"] |= {f"col-{at}": columns.roles.get(at, "") for at in range(width)}
        super().__init__(*args, **kwargs)
        own, other = "with", "before"
        if not self.organisation.prices_include_tax:
            own, other = other, own
        names = {"with": gettext("with tax"), "before": gettext("before tax")}
        self.fields["tax"].choices = [("", gettext("%(own)s, as yours") % {"own": names[own]}), (other, names[other])]
        if len(price_list.sheets) > 1:
            names = [(str(at), sheet["name"]) for at, sheet in enumerate(price_list.sheets)]
            self.fields["sheet"] = forms.ChoiceField(
                label=gettext("Sheet"), choices=names, initial=str(said.get("sheet", 0))
            )
        self.width, self.columns = width, columns
        for at in range(width):
            self.fields[f"col-{at}"] = forms.ChoiceField(
                label=gettext("Column %(at)s") % {"at": letter(at)},
                choices=labels(columns.heads, at),
                required=False,
                error_messages={"invalid_choice": gettext("This choice is not on the list. Choose one from the list.")},
            )

    def column_fields(self) -> list[Any]:
        return [self[f"col-{at}"] for at in range(self.width)]

    def plain_fields(self) -> list[Any]:
        return [self[name] for name in self.fields if not name.startswith("col-")]

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        seen: dict[str, int] = {}
        for at in range(self.width):
            role = data.get(f"col-{at}", "")
            if role and role in seen:
                first = letter(seen[role])
                self.add_error(
                    f"col-{at}",
                    gettext("Column %(first)s is “%(role)s” already. Choose one of the two.")
                    % {"first": first, "role": role_label(role)},
                )
            elif role:
                seen[role] = at
        since, until = data.get("since"), data.get("until")
        if since and until and until < since:
            self.add_error("until", gettext("It ends before it begins. Type a later day."))
        return data

    def settings(self) -> dict[str, Any]:
        """As the list keeps them."""
        data = self.cleaned_data
        kept = {name: data[name] for name in ("head", "per", "lead", "tax", "only_known")}
        kept |= {name: data[name].isoformat() for name in ("since", "until") if data[name]}
        if data["length"] is not None:
            kept["length"] = str(data["length"])
        roles = {str(at): data[f"col-{at}"] for at in range(self.width) if data[f"col-{at}"]}
        sheet = int(data.get("sheet") or 0)
        said = {name: value for name, value in kept.items() if value not in ("", None, False)}
        return {"head": 0} | said | {"sheet": sheet, "columns": roles}


_PLAIN = ("head", "per", "lead", "since", "until", "tax", "only_known")


def choices_of(data: Any, materials: Any, numbers: set[int]) -> tuple[dict[str, str], list[str]]:
    """What was chosen for rows, and the sentences for what cannot be."""
    found, wrong = {}, []
    for name, value in data.items():
        row = name.removeprefix("row-")
        if not name.startswith("row-") or not row.isdecimal() or int(row) not in numbers:
            continue
        if value and value != LEAVE_OUT and value not in materials:
            wrong.append(
                gettext("Row %(row)s: this material is not on the list any more. Choose another.") % {"row": row}
            )
        else:
            found[row] = value
    return found, wrong
