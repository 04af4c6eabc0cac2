"""Model and form fields for lengths, kept as exact millimetres and typed as people write them."""

from collections.abc import Sequence
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.validators import MinValueValidator
from django.db import models
from django.utils.text import capfirst
from django.utils.translation import gettext

from farmbuild.common.speaking import said, said_either
from farmbuild.measure import (
    BARE_MM_FROM,
    FILM_BELOW_MM,
    FOOT_MM,
    INCH_MM,
    LengthError,
    NumberError,
    Unit,
    UnitSystem,
    Usual,
    bare_is_same,
    bare_unit,
    format_both,
    format_film,
    format_length,
    parse_length,
    parse_lengths,
    read_decimal,
    says_exactly,
    typed_as,
)
from farmbuild.measure.senses import AskedBack, Sense, ask_back
from farmbuild.measure.usual import longer_than_any

#: What a bare number means: (imperial, metric). Small things are measured in inches and millimetres.
DEFAULT_UNITS = {
    True: {UnitSystem.IMPERIAL: Unit.INCH, UnitSystem.METRIC: Unit.MILLIMETRE},
    False: {UnitSystem.IMPERIAL: Unit.FOOT, UnitSystem.METRIC: Unit.METRE},
}
_HAND_MM = Decimal(100)
#: Parts of an inch on the finest rule.
_FINEST = 64


#: Before the name of a box: the reading of it that was pressed.
MEANT = "meant-"


class LengthInput(forms.TextInput):
    """A text box for one length; the page script echoes what was understood."""

    template_name = "forms/length_input"

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """What was pressed of the readings that were asked about comes before what stands in the box."""
        return data.get(f"{MEANT}{name}") or super().value_from_datadict(data, files, name)

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        widget = context["widget"]
        unit = self.attrs.get("data-unit", "")
        # One unit a form: millimetres, and metres only where nobody means millimetres.
        widget["unit"] = gettext("mm, or m below %(least)s") % {"least": BARE_MM_FROM} if unit == Unit.METRE else unit
        if unit and value and not bare_is_same(str(value), Unit(unit)):
            widget["unit"] = gettext("without a unit: %(unit)s") % {"unit": widget["unit"]}
        if identity := widget["attrs"].get("id"):
            described = (widget["attrs"].get("aria-describedby") or "", f"{identity}_unit")
            widget["attrs"]["aria-describedby"] = " ".join(filter(None, described))
        return context


class LengthListInput(LengthInput):
    """A text box for several lengths; the page script echoes each."""

    def get_context(self, name: str, value: Any, attrs: Any) -> dict[str, Any]:
        context = super().get_context(name, value, attrs)
        context["widget"]["attrs"]["data-kind"] = "lengths"
        return context


class LengthFormField(forms.CharField):
    """Reads 12', 7' 3 1/2", 93.5", 2.38 m or 2380 mm; gives exact Decimal millimetres or None.

    ``small`` decides what a bare number means; ``system`` is set by the form from the organisation. ``usual`` stands
    in an empty form. Nothing newly typed is longer than a piece of ``cut_of``, a kind of material; what is ``stored``
    may be. A number without a unit that makes no ``sense`` is asked about, with its ``readings`` to press.
    """

    widget = LengthInput
    cut_of = ""
    stored: Decimal | None = None
    _sense: Sense | None = None
    readings: tuple[str, ...] = ()

    def __init__(
        self, *, small: bool = False, minimum: Decimal | None = None, usual: Usual | None = None, **kwargs: Any
    ) -> None:
        for unused in ("max_digits", "decimal_places", "max_value", "min_value"):
            kwargs.pop(unused, None)
        kwargs.setdefault("max_length", 60)
        super().__init__(**kwargs)
        self.small = small
        self.minimum = minimum
        self.usual = usual
        self.use_system(UnitSystem.IMPERIAL)

    @property
    def sense(self) -> Sense | None:
        return self._sense

    @sense.setter
    def sense(self, sense: Sense) -> None:
        """The page script asks by it too, as the box is left."""
        self._sense = sense
        self.widget.attrs |= {"data-low": str(sense.low), "data-high": str(sense.high)}

    def use_system(self, system: UnitSystem) -> None:
        """Read bare numbers and show stored lengths in this system."""
        self.system = system
        self.unit = DEFAULT_UNITS[self.small][system]
        if self.usual:
            self.initial = self.usual.of(system)
        self.widget.attrs |= {"data-unit": self.unit.value, "data-system": system.value, "autocomplete": "off"}

    def prepare_value(self, value: Any) -> Any:
        return format_typed(value, self.unit, self.system) if isinstance(value, Decimal) else value

    def say(self, value: Any) -> Any:
        """For reading, where no box says in which unit."""
        return format_exact(value, self.system) if isinstance(value, Decimal) else value

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        if text in self.empty_values:
            return None
        try:
            length = parse_length(text, self.unit)
        except LengthError as error:
            raise ValidationError(said(error.sentence), code="unreadable") from error
        refused, code = self._refused(length)
        asked = self._asked(text, length)
        # As the field reads it, it may not be; the other readings are offered all the same.
        readings = asked.readings[: -1 if refused else None] if asked else ()
        if asked and readings:
            self.readings = readings
            raise ValidationError(self._asking(refused, readings) if refused else said(asked.question), code="asked")
        if refused:
            raise ValidationError(said(refused), code=code)
        return length

    @staticmethod
    def _asking(refused: str, readings: Sequence[str]) -> str:
        """What is refused asks back by itself, or is asked about with these readings."""
        meant = gettext(" Did you mean %(length)s?") % {"length": said_either(readings)}
        return said(refused) if "Did you mean" in refused else f"{said(refused)}{meant}"

    def _refused(self, length: Decimal) -> tuple[str, str]:
        """Why no such length may be, "" where it may, and the code of that."""
        if self.minimum is not None and length < self.minimum:
            least = {"least": format_length(self.minimum, self.system)}
            return gettext("Type a length of at least %(least)s.") % least, "too_short"
        problem = longer_than_any(self.cut_of, self.system, length)
        return (problem, "too_long") if problem and length != self.stored else ("", "")

    def _asked(self, text: str, length: Decimal) -> AskedBack | None:
        if self.sense is None or length == self.stored:
            return None
        return ask_back(text, self.unit, self.system, self.sense)

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(self.clean(data) != initial)
        except ValidationError:
            return True


def format_exact(length: Decimal, system: UnitSystem) -> str:
    """The length as text that reads back to the same value: rounded where that is exact, millimetres where not."""
    if 0 < length < FILM_BELOW_MM:
        shown = format_film(length, system)
    else:
        shown = format_length(length, system)
    try:
        reads_back = parse_length(shown, DEFAULT_UNITS[True][system]) == length
    except LengthError:
        # Rounding up can pass the longest length there is, which is then no length.
        reads_back = False
    return shown if reads_back else f"{typed_as(length.normalize())} mm"


def format_typed(length: Decimal, unit: Unit, system: UnitSystem) -> str:
    """The length as it stands in a box of ``unit``: one number reads back the same without its unit, where it can.

    36" and not 3' in a box of inches, where a bare 3 is three inches.
    """
    shown = ""
    if unit is Unit.INCH and not 0 < length < FILM_BELOW_MM:
        inches = Fraction(length) / Fraction(INCH_MM)
        if _FINEST % inches.denominator == 0:
            whole, part = divmod(inches, 1)
            shown = f'{" ".join(str(each) for each in (whole, part) if each) or "0"}"'
    elif unit is Unit.FOOT and 0 <= length < FOOT_MM:
        shown = f"0' {format_length(length, system)}" if length else "0'"
    elif unit is Unit.METRE and 0 <= length < BARE_MM_FROM:
        shown = f"{typed_as((length / 1000).normalize())} m"
    try:
        return shown if shown and parse_length(shown, unit) == length else format_exact(length, system)
    except LengthError:
        return format_exact(length, system)


def understood_length(text: str, unit: Unit, system: UnitSystem) -> str:
    """How a typed length is read, the exact side first: 7' 3 1/2" = 2 223 mm. Raises LengthError."""
    length = parse_length(text, unit)
    own, other = _film_both(length, system) if 0 < length < FILM_BELOW_MM else format_both(length, system)
    for exact, rounded in ((own, other), (other, own)):
        if says_exactly(exact, length):
            return f"{exact} = {_hundredths(length) if rounded.endswith('mm') else rounded}"
    typed = " ".join(text.split())
    return f"{typed}{f' {_unit_typed(typed, unit)}' if typed[-1].isdigit() else ''} = {_hundredths(length)}"


def _unit_typed(typed: str, unit: Unit) -> Unit:
    """What a text that ends in a digit is in; a fraction is no hundred."""
    try:
        return bare_unit(read_decimal(typed), unit)
    except NumberError:
        return unit


def _film_both(length: Decimal, system: UnitSystem) -> tuple[str, str]:
    other = UnitSystem.METRIC if system == UnitSystem.IMPERIAL else UnitSystem.IMPERIAL
    return format_film(length, system), format_film(length, other)


def _hundredths(length: Decimal) -> str:
    """Millimetres; below a hand's breadth a whole millimetre would say too little."""
    if length >= _HAND_MM:
        return format_length(length, UnitSystem.METRIC)
    return f"{typed_as(length.quantize(Decimal('0.01'), ROUND_HALF_UP).normalize())} mm"


class LengthField(models.DecimalField):
    """Exact millimetres with six places: 1/64 in is 0.396875 mm.

    ``usual``: stands where nothing is typed, in a new form by the organisation's units, in a row made otherwise in
    inches.
    """

    def __init__(self, *args: Any, small: bool = False, usual: Usual | None = None, **kwargs: Any) -> None:
        self.small = small
        self.usual = usual
        if usual:
            kwargs["default"] = usual.imperial
        kwargs["max_digits"] = 18
        kwargs["decimal_places"] = 6
        kwargs.setdefault("validators", [MinValueValidator(Decimal(0))])
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> Any:
        name, path, args, kwargs = super().deconstruct()
        del kwargs["max_digits"], kwargs["decimal_places"]
        if self.small:
            kwargs["small"] = True
        return name, path, args, kwargs

    def formfield(self, **kwargs: Any) -> Any:
        defaults: dict[str, Any] = {"form_class": LengthFormField, "small": self.small, "usual": self.usual}
        if self.has_default():
            defaults["initial"] = self.get_default()
        required = {
            "required": not self.blank,
            "label": capfirst(self.verbose_name),
            "help_text": self.help_text,
        }
        form_class = kwargs.pop("form_class", defaults.pop("form_class"))
        return form_class(**(required | defaults | kwargs))


class ThousandthsField(models.Field):
    """A Decimal with at most three places, kept as a whole number of thousandths, so that sums are exact everywhere.

    Amounts of money in whole coins, of currencies with three decimals too, and parts of pieces. Summed up and compared
    in SQL as it is; whatever is added to it there has this field as its output.
    """

    _THOUSAND = 3

    def get_internal_type(self) -> str:
        return "BigIntegerField"

    def to_python(self, value: Any) -> Decimal | None:
        return value if value is None else Decimal(value)

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Decimal | None:
        return None if value is None else Decimal(value).scaleb(-self._THOUSAND)

    def get_prep_value(self, value: Any) -> Any:
        value = super().get_prep_value(value)
        if value is None or hasattr(value, "resolve_expression"):
            return value
        thousandths = Decimal(value).scaleb(self._THOUSAND)
        if thousandths != thousandths.to_integral_value():
            raise ValueError(f"{value} has more than {self._THOUSAND} decimals")
        return int(thousandths)


def usual_lengths(model: type[models.Model], system: str) -> dict[str, Decimal]:
    """What the fields of a new row hold where nothing is said, in these units."""
    fields = model._meta.concrete_fields
    return {field.name: field.usual.of(system) for field in fields if isinstance(field, LengthField) and field.usual}


class LengthListFormField(forms.CharField):
    """Several lengths with semicolons between: 8'; 12'; 16'. Gives a list of millimetres as decimal strings.

    None is longer than a board, but those that were stored already: a form says them by ``stored``.
    """

    widget = LengthListInput
    stored: Sequence[str] = ()

    def __init__(self, *, small: bool = False, **kwargs: Any) -> None:
        for unused in ("encoder", "decoder"):
            kwargs.pop(unused, None)
        kwargs.setdefault("max_length", 200)
        super().__init__(**kwargs)
        self.small = small
        self.use_system(UnitSystem.IMPERIAL)

    def use_system(self, system: UnitSystem) -> None:
        self.system = system
        self.unit = DEFAULT_UNITS[self.small][system]
        self.widget.attrs |= {"data-unit": self.unit.value, "data-system": system.value, "autocomplete": "off"}

    def prepare_value(self, value: Any) -> Any:
        if isinstance(value, (list, tuple)):
            return "; ".join(format_typed(Decimal(item), self.unit, self.system) for item in value)
        return value

    def say(self, value: Any) -> Any:
        return "; ".join(format_exact(Decimal(item), self.system) for item in value or ())

    def clean(self, value: Any) -> Any:
        text = super().clean(value)
        try:
            lengths = sorted(set(parse_lengths(text or "", self.unit)))
        except LengthError as error:
            why = said(error.sentence)
            raise ValidationError(why if error.text in why else f"“{error.text}”: {why}", code="unreadable") from error
        if any(length <= 0 for length in lengths):
            example = "2400 mm; 3600 mm" if self.system == UnitSystem.METRIC else "8'; 12'; 16'"
            longer = gettext("Type lengths longer than zero, for example %(example)s.") % {"example": example}
            raise ValidationError(longer, code="too_short")
        for length in lengths:
            problem = longer_than_any("lumber", self.system, length)
            if problem and str(length) not in self.stored:
                raise ValidationError(said(problem), code="too_long")
        return [str(length) for length in lengths]

    def has_changed(self, initial: Any, data: Any) -> bool:
        try:
            return bool(self.clean(data) != list(initial or []))
        except ValidationError:
            return True


class LengthListField(models.JSONField):
    """A short list of lengths, as decimal strings in millimetres."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("default", list)
        kwargs.setdefault("blank", True)
        super().__init__(*args, **kwargs)

    def formfield(self, **kwargs: Any) -> Any:
        kwargs.pop("form_class", None)
        defaults = {
            "required": not self.blank,
            "label": capfirst(self.verbose_name),
            "help_text": self.help_text,
        }
        return LengthListFormField(**(defaults | kwargs))
