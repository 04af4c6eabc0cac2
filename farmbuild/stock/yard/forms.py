"""The page on which a yard is written down. What was typed is read first; the second press adds it.

Where a line could mean several materials, or says no length, or nothing tells what its pieces cost, a box is made for
that. Its name comes from what was said and not from where, so lines may be moved about.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from decimal import Decimal
from hashlib import sha256
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import cached_property
from django.utils.translation import gettext, gettext_lazy

from farmbuild.catalogue.fields import MoneyField
from farmbuild.catalogue.models import Material, check_length, check_longest
from farmbuild.catalogue.usual import length_question, price_question
from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.common.lengths import length_text
from farmbuild.common.speaking import said_count
from farmbuild.common.sure import AsksOnce
from farmbuild.measure import ByUnits, format_money
from farmbuild.measure.senses import OFFCUT, PIECES
from farmbuild.orgs.clock import today_of
from farmbuild.stock.bridge import units_of
from farmbuild.stock.forms import grouped_materials, offer_places, place_field, site_field
from farmbuild.stock.words import noun_of
from farmbuild.stock.yard.known import Known, known_of
from farmbuild.stock.yard.matching import Named
from farmbuild.stock.yard.reading import MOST_LINES, Line, Pile, list_of, read_lines
from farmbuild.stock.yard.services import Piled, stand_of

EXAMPLE = ByUnits(
    "31 sticks of 1-3/8\n12 1-3/8 rail 10'6\"\n6 conduit 3/4\n14 2x6 12'\noffcuts 1-3/8: 4'2\" 3'11\" 3x 5'",
    "20 x 38 mm 6 m\n14 board 25x150 4 m\n2 film 8 m 50 m\n500 wood screws\noffcuts 38 mm: 1200; 900; 3x 1500",
)
_FOOT, _METRE = Decimal("304.8"), Decimal(1000)


def key_of(text: str) -> str:
    return sha256(" ".join(text.casefold().split()).encode()).hexdigest()[:10]


@dataclass
class Row:
    """One line as understood. Boxes are names of fields of the form, "" where none is wanted."""

    line: Line
    material: Material | None = None
    choice: str = ""
    length_box: str = ""
    piles: tuple[Pile, ...] = ()
    words: str = ""
    problem: str = ""
    questions: list[str] = field(default_factory=list)


class YardForm(AsksOnce, OrgForm):
    place_name = place_field(help_text=gettext_lazy("Where all of this lies: one of your places, or a new name."))
    site = site_field()
    lines = forms.CharField(
        label=gettext_lazy("What lies there"),
        required=False,
        max_length=20_000,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "autocapitalize": "none"}),
        help_text=gettext_lazy("One line a pile: how many, what, and the length of one."),
    )
    offcuts_of = forms.ModelChoiceField(
        Material.objects.filter(archived_at=None),
        label=gettext_lazy("Offcuts of"),
        required=False,
        help_text=gettext_lazy("To paste the lengths of one material."),
    )
    offcut_lengths = forms.CharField(
        label=gettext_lazy("Lengths of the offcuts"),
        required=False,
        max_length=10_000,
        widget=forms.Textarea(attrs={"rows": 4, "spellcheck": "false"}),
        help_text=ByUnits(
            "With semicolons or new lines between; 3 x 5' for three equal ones.",
            "With semicolons or new lines between; 3 x 1500 mm for three equal ones.",
        ),
    )
    seen = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        offer_places(self)
        self.fields["lines"].widget.attrs["placeholder"] = EXAMPLE.of(self.organisation.unit_system)
        self.fields["offcuts_of"].choices = grouped_materials(self.organisation, by_length=True)
        self.rows: list[Row] = []
        self.costs: list[str] = []
        self.system = units_of(self.organisation)
        if self.is_bound:
            self.data = self.data.copy()
            self._read()

    @cached_property
    def known(self) -> Known:
        return known_of(organisation=self.organisation, today=today_of(organisation=self.organisation))

    def _typed(self, name: str) -> str:
        return self.data.get(self.add_prefix(name), "")

    def _read(self) -> None:
        lines = read_lines(self._typed("lines")[:20_000], self.known.named, self.system)
        if self._typed("offcut_lengths").strip() and (pasted := self._pasted(len(lines))):
            lines.append(pasted)
        self.too_many = len(lines) > MOST_LINES
        self.rows = [self._row(line) for line in lines[:MOST_LINES]]
        self._ask_costs()
        for field_ in self.fields.values():
            if hasattr(field_, "use_system"):
                field_.use_system(self.system)

    def _pasted(self, before: int) -> Line | None:
        named = {str(row.pk): row for row in self.known.named}
        what = named.get(self._typed("offcuts_of"))
        return list_of(what, self._typed("offcut_lengths")[:10_000], self.system, before + 1) if what else None

    def _row(self, line: Line) -> Row:
        row = Row(line, problem=line.problem)
        if line.problem:
            return row
        named = self._choose(row)
        row.material = named and self.known.materials[named.pk]
        row.piles = line.piles
        if row.material and row.material.by_length and any(pile.length is None for pile in line.piles):
            row.length_box = f"length_{key_of(line.what)}"
            self._add_length_box(row)
        return row

    def _choose(self, row: Row) -> Named | None:
        """The one that fits, or the one that was chosen from those that do."""
        fitting = row.line.fit.materials
        if len(fitting) == 1 and row.line.fit.whole:
            return fitting[0]
        row.choice = f"material_{key_of(row.line.what)}"
        if row.choice not in self.fields:
            first = [(str(named.pk), named.name) for named in fitting]
            rest = [(key, rows) for key, rows in grouped_materials(self.organisation, rows=self._all) if key]
            groups = [("", "Choose the material"), *([("These fit", first)] if first else []), *rest]
            box = forms.ChoiceField(
                label=gettext("Which is “%(what)s”?") % {"what": row.line.what}, choices=groups, required=False
            )
            self._want(row.choice, box)
            used = [named for named in fitting if named.used and row.line.fit.whole]
            self.data.setdefault(row.choice, str(used[0].pk) if len(used) == 1 else "")
        chosen = self.data.get(row.choice, "")
        return next((named for named in self.known.named if str(named.pk) == chosen), None)

    def _want(self, name: str, box: forms.Field) -> None:
        """A box that is filled in before the yard is added, though not before it is looked at."""
        box.wanted = True
        self.fields[name] = box

    @cached_property
    def _all(self) -> list[Material]:
        return list(self.known.materials.values())

    def _add_length_box(self, row: Row) -> None:
        if row.length_box in self.fields or row.material is None:
            return
        box = LengthFormField(
            label=gettext("Length of one piece of %(material)s") % {"material": row.material}, required=False
        )
        box.cut_of = row.material.kind
        box.sense = PIECES.get(row.material.kind, OFFCUT)
        self._want(row.length_box, box)
        box.use_system(self.system)
        only = self.known.one_length(row.material.pk)
        self.data.setdefault(row.length_box, box.prepare_value(only) if only else "")

    def _ask_costs(self) -> None:
        """One box a material: what one piece of its longest length costs, as the best offer says."""
        for row in self.rows:
            if row.material is None or (name := f"cost_{row.material.pk}") in self.fields:
                continue
            pk, length = row.material.pk, self._cost_length(row.material)
            found = self.known.best_price(pk, length)
            which = f"{length_text(length, self.system)} of " if length is not None else ""
            box = MoneyField(
                label=gettext("Value of one %(which)s%(material)s") % {"which": which, "material": row.material},
                required=False,
                places=4,
            )
            box.use_organisation(self.organisation)
            if found is None:
                box.help_text = gettext("No offer and no lot tells. Type 0 where it is worth nothing.")
            else:
                of = f"the offer of {found.seller}" if found.seller else "the latest lot of it"
                box.help_text = f"From {of}."
            self._want(name, box)
            self.costs.append(name)
            self.data.setdefault(name, box.prepare_value(found.of(length)) if found else "")

    def _cost_length(self, material: Material) -> Decimal | None:
        """Of which piece the value is asked: the longest whole one typed, else one as it is sold, else an offcut.

        What is typed in a box beside the line does not change it: the value may be typed with it.
        """
        if not material.by_length:
            return None
        lines = [row.line for row in self.rows if row.material == material]
        whole, offcuts = (
            [pile.length for line in lines if line.offcut is offcut for pile in line.piles if pile.length]
            for offcut in (False, True)
        )
        lengths = whole or self.known.lengths.get(material.pk) or offcuts
        return max(lengths, default=_FOOT if self.system == self.system.IMPERIAL else _METRE)

    @property
    def asked_now(self) -> str:
        """What was looked at: the lines as typed, and what lies at the place."""
        place = self._typed("place_name")
        said = "\n".join([place, *(self._typed(name) for name in ("lines", "offcuts_of", "offcut_lengths"))])
        return f"{key_of(said)} {stand_of(organisation=self.organisation, place=place)}"

    @property
    def adding(self) -> bool:
        return "add" in self.data

    @property
    def looked(self) -> bool:
        """Whether what is typed now was shown as understood before it was sent; the place has a check of its own."""
        return self._typed("seen").partition(" ")[0] == self.asked_now.partition(" ")[0]

    def clean_place_name(self) -> str:
        return " ".join(self.cleaned_data["place_name"].split())

    def clean(self) -> dict[str, Any]:
        data = super().clean()
        if self._typed("offcut_lengths").strip() and not data.get("offcuts_of") and "offcuts_of" not in self.errors:
            self.add_error("offcuts_of", gettext("Choose of which material these offcuts are."))
        if self.too_many:
            self.add_error(
                "lines",
                gettext("A page takes %(most_lines)s lines. Add some of them first.") % {"most_lines": MOST_LINES},
            )
        for row in self.rows:
            self._finish(row, data)
        asked = {f"line {row.line.number}": " ".join(row.questions) for row in self.rows if row.questions}
        at = dict.fromkeys(asked, (self, "lines"))
        wrong = any(row.problem for row in self.rows) or bool(self.errors)
        if not wrong and self.adding:
            self.ask({name: f"Line {name[5:]}: {question}" for name, question in asked.items()}, at=at)
        return data

    def _finish(self, row: Row, data: dict[str, Any]) -> None:
        """What the boxes say goes into the piles of the line; what is missing is said there once it is to be added."""
        if row.problem:
            return
        if row.material is None:
            strange = ", ".join(f"“{word}”" for word in row.line.fit.strange)
            row.problem = f"None of your materials answers to {strange}. Choose which it is." if strange else (
                "Several materials fit. Choose which it is." if row.line.fit.materials else "Choose the material."
            )  # fmt: skip
            return
        if row.length_box:
            length = data.get(row.length_box)
            if length is None:
                row.problem = "" if row.length_box in self.errors else "Type the length of one piece."
                return
            row.piles = tuple(replace(pile, length=pile.length or length) for pile in row.piles)
        try:
            for pile in row.piles:
                check_length(row.material, pile.length)
                check_longest(row.material, pile.length)
        except ValidationError as error:
            row.problem = " ".join(error.messages)
            return
        name = f"cost_{row.material.pk}"
        if data.get(name) is None and name not in self.errors and self.adding:
            self.add_error(name, gettext("Type what one is worth; 0 where it is worth nothing."))
        row.words = self._words(row)
        row.questions = self._questions(row, data.get(name))

    def _words(self, row: Row) -> str:
        said = []
        for pile in row.piles:
            noun = said_count(pile.quantity, noun_of(row.material, offcut=row.line.offcut))
            if pile.length is not None:
                length = length_text(pile.length, self.system)
                noun = gettext("%(pieces)s of %(length)s") % {"pieces": noun, "length": length}
            said.append(noun)
        return "; ".join(said)

    def _questions(self, row: Row, cost: Decimal | None) -> list[str]:
        assert row.material is not None
        known = self.known.priced(row.material.pk)
        found = [] if row.line.offcut else [length_question(row.material, pile.length, known) for pile in row.piles]
        found.append(price_question(row.material, cost, self._cost_length(row.material), known))
        return [question for question in dict.fromkeys(found) if question]

    def shown(self) -> list[dict[str, Any]]:
        """Rows for the page; a box that several lines share stands at the first of them."""
        seen: set[str] = set()
        shown = []
        for row in self.rows:
            boxes = {name: self[box] for name, box in (("choice", row.choice), ("length_box", row.length_box)) if box}
            boxes = {name: box for name, box in boxes.items() if box.name not in seen}
            seen |= {box.name for box in boxes.values()}
            shown.append(
                {"choice": None, "length_box": None}
                | boxes
                | {
                    "as_above": bool(row.choice) and "choice" not in boxes,
                    "number": row.line.number,
                    "text": row.line.text,
                    "offcut": row.line.offcut,
                    "material": row.material,
                    "words": row.words,
                    "problem": row.problem,
                    "questions": row.questions,
                }
            )
        return shown

    def cost_boxes(self) -> list[forms.BoundField]:
        return [self[name] for name in self.costs]

    @property
    def problems(self) -> bool:
        return any(row.problem for row in self.rows)

    def piles(self) -> list[Piled]:
        """Once the form is valid and no row has a problem."""
        found = []
        for row in self.rows:
            assert row.material is not None
            base, cost = self._cost_length(row.material), self.cleaned_data[f"cost_{row.material.pk}"]
            for pile in row.piles:
                each = cost if base is None or pile.length is None else cost * pile.length / base
                found.append(
                    Piled(row.material, pile.quantity, pile.length, row.line.offcut, each.quantize(Decimal("0.0001")))
                )
        return found

    def worth(self) -> str:
        """Of all of it; once it is right and nothing is left to be typed."""
        if any(self.cleaned_data.get(name) is None for name in self.costs):
            return "not known yet"
        return format_money(
            sum((pile.quantity * pile.unit_cost for pile in self.piles()), Decimal(0)), self.organisation.currency
        )
