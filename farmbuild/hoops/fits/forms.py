"""The sheet of readings: the line wanted, and one row a hoop."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.fields import LengthFormField
from farmbuild.common.forms import OrgForm
from farmbuild.common.lengths import length_text
from farmbuild.common.reading import units_of
from farmbuild.hoops.fits.bridge import step_of
from farmbuild.hoops.fits.models import HouseFit
from farmbuild.hoops.fits.rows import PARTS, Reading, field_name, row_problems
from farmbuild.measure import UnitSystem
from farmbuild.measure.usual import RIDGE_TOLERANCE

LEVEL, RISING, FALLING, ANY = "level", "rising", "falling", "any"
LINES = (
    (LEVEL, _("Level")),
    (RISING, _("Rising towards the back")),
    (FALLING, _("Falling towards the back")),
    (ANY, _("Straight, level or not: whatever needs the least moving")),
)
LABELS = {"post_span": _("Post to post"), "ridge_height": _("Ridge height"), "down": _("Room down"), "up": _("Room up")}
_SAID = {
    "post_span": _("post to post"),
    "ridge_height": _("ridge height"),
    "down": _("room to go down"),
    "up": _("room to come up"),
}
#: Rows of one form; a longer house is sighted in parts.
MAX_ROWS = 200
_SLOPE_STEP = Decimal("0.00001")


@dataclass(frozen=True)
class Row:
    """One hoop of the form: ``cells`` are (short label, bound field)."""

    hoop: int
    place: Decimal
    cells: list[tuple[str, Any]]

    @property
    def room(self) -> bool:
        """Room of its own was said for it."""
        return any(field.errors or field.value() for _, field in self.cells[2:])


def rows_of(hoops: int, *, first: str) -> tuple[range, list[tuple[int, int]]]:
    """The hoops of the form that begins with hoop ``first`` as the address has it, and the first and last hoop of
    every form of a long house, none for a short one."""
    parts = [(start, min(start + MAX_ROWS - 1, hoops)) for start in range(1, hoops + 1, MAX_ROWS)]
    chosen = next((part for part in parts if str(part[0]) == first), parts[0])
    return range(chosen[0], chosen[1] + 1), parts if len(parts) > 1 else []


def _length(label: str, *, missing: str = "", help_text: str = "") -> LengthFormField:
    """``missing``: what is said where the length has to be there and is not."""
    field = LengthFormField(small=True, required=bool(missing), label=label, help_text=help_text)
    if missing:
        field.error_messages["required"] = missing
    return field


class FitForm(OrgForm):
    """``places`` are those of all hoops of the house; rows are made for the hoop numbers ``shown``."""

    tolerance = _length(
        _("Ridge may be off the line by"), missing=_("Type how far the ridge may be off the line; 0 for not at all.")
    )
    span_tolerance = _length(
        _("A post span may be off by"), missing=_("Type how far a post span may be off; 0 for not at all.")
    )
    line = forms.ChoiceField(label=_("The ridge should run"), choices=LINES, widget=forms.RadioSelect, initial=LEVEL)
    rise = _length(
        _("Rise or fall from the front hoop to the back hoop"), help_text=_("Only for a rising or falling ridge.")
    )
    room_down = _length(
        _("Room to go down, for every hoop"),
        help_text=_("How far a hoop can still slide down in its posts. A row of its own counts before this."),
    )
    room_up = _length(_("Room to come up, for every hoop"), help_text=_("With enough pipe left in the posts."))

    def __init__(
        self,
        *args: Any,
        organisation: Any,
        places: Sequence[Decimal],
        shown: range,
        post_span: Decimal,
        socket_depth: Decimal,
        fit: HouseFit | None = None,
        with_readings: bool = True,
        **kwargs: Any,
    ) -> None:
        self.places, self.shown, self.post_span, self.socket_depth = places, shown, post_span, socket_depth
        self.with_readings = with_readings
        system = units_of(organisation)
        initial = dict.fromkeys(("tolerance", "span_tolerance"), RIDGE_TOLERANCE.of(system))
        if fit:
            initial |= _initial(fit, self.run, with_readings)
        kwargs["initial"] = initial | (kwargs.get("initial") or {})
        super().__init__(*args, organisation=organisation, **kwargs)
        for hoop in shown:
            for part in PARTS:
                field = _length(gettext("Hoop %(hoop)s, %(said)s") % {"hoop": hoop, "said": _SAID[part]})
                field.use_system(system)
                field.widget.attrs |= {"enterkeyhint": "next", "data-part": part}
                self.fields[field_name(hoop, part)] = field

    @property
    def metric(self) -> bool:
        """Whether its boxes are read so."""
        return units_of(self.organisation) == UnitSystem.METRIC

    @property
    def run(self) -> Decimal:
        """From the front hoop to the back hoop."""
        return self.places[-1] - self.places[0]

    @property
    def settings(self) -> list[Any]:
        return [self[name] for name in self.base_fields]

    @property
    def settings_wrong(self) -> bool:
        return any(field.errors for field in self.settings)

    @property
    def rows(self) -> Iterator[Row]:
        for hoop in self.shown:
            yield Row(hoop, self.places[hoop - 1], [(LABELS[part], self[field_name(hoop, part)]) for part in PARTS])

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        units = units_of(self.organisation)
        self.slope = self._slope(data)
        readings = list(self._readings(data))
        problems = row_problems(
            readings,
            hoops=len(self.places),
            post_span=self.post_span,
            socket_depth=self.socket_depth,
            units=units,
        )
        for name, sentences in problems.items():
            if name not in self.errors:
                self.add_error(name, sentences)
        self.readings = readings
        return data

    def _slope(self, data: dict[str, Any]) -> Decimal | None:
        """Rise over run towards the back; None for whatever line needs the least."""
        line, rise = data.get("line"), data.get("rise")
        if line in (None, ANY, LEVEL) or "rise" in self.errors:
            return None if line == ANY else Decimal(0)
        if rise is None or rise == 0:
            self.add_error(
                "rise", gettext("Type how far the ridge rises or falls over the whole house, or choose level.")
            )
            return None
        if rise >= self.run:
            run = length_text(self.run, units_of(self.organisation))
            self.add_error(
                "rise", gettext("The house is %(run)s long. Type a rise or fall that is less than that.") % {"run": run}
            )
            return None
        return (rise / self.run * (1 if line == RISING else -1)).quantize(_SLOPE_STEP)

    def _readings(self, data: dict[str, Any]) -> Iterator[Reading]:
        """Rows in which something is typed; the room of every hoop stands in where a row says nothing."""
        none = Decimal(0)
        for hoop in self.shown:
            names = {part: field_name(hoop, part) for part in PARTS}
            values = {part: data.get(name) for part, name in names.items()}
            if all(value is None for value in values.values()) and not any(
                name in self.errors for name in names.values()
            ):
                continue
            for part, name in (("down", "room_down"), ("up", "room_up")):
                if values[part] is None:
                    values[part] = data.get(name) or none
            yield Reading(hoop=hoop, **values)


def _initial(fit: HouseFit, run: Decimal, with_readings: bool) -> dict[str, Any]:
    """What the last fit holds, as the form shows it."""
    step = step_of(units_of(fit.organisation))
    values: dict[str, Any] = {"tolerance": fit.tolerance, "span_tolerance": fit.span_tolerance}
    if fit.slope is None:
        values["line"] = ANY
    elif fit.slope:
        values |= {
            "line": RISING if fit.slope > 0 else FALLING,
            # The slope is kept to five places, so the rise comes back to the step in which it was typed.
            "rise": round(abs(fit.slope) * run / step) * step,
        }
    readings = list(fit.readings.all())
    for part, name in (("down", "room_down"), ("up", "room_up")):
        usual = Counter(getattr(row, part) for row in readings).most_common(1)
        values[name] = usual[0][0] if usual else None
    if with_readings:
        for row in readings:
            for part in PARTS:
                value = getattr(row, part)
                if part not in ("down", "up") or value != values[f"room_{part}"]:
                    values[field_name(row.hoop, part)] = value
    return values
