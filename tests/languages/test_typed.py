"""What cannot be read of what somebody typed is said in their language; what is kept of it stays English."""

import pytest
from django.core.exceptions import ValidationError
from django.utils import translation

from farmbuild.common.fields import LengthFormField, LengthListFormField
from farmbuild.common.number_fields import WholeFormField
from farmbuild.measure import LengthError, Unit, parse_length


@pytest.mark.parametrize(
    ("field", "typed", "said"),
    [
        (LengthFormField(), "7' 3 x", "“x” no se puede leer aquí en el carácter 6. Escríbalo así: 12' o 7' 3 1/2\"."),
        (LengthListFormField(), "0", "Escriba largos mayores que cero, por ejemplo 8'; 12'; 16'."),
        (WholeFormField(), "1.234", "“1.234” podría ser 1.234 o 1234, y se pide un número entero."),
    ],
)
def test_what_cannot_be_read_is_said_in_spanish(field, typed, said):
    with translation.override("es"), pytest.raises(ValidationError) as refused:
        field.clean(typed)
    assert refused.value.messages == [said]


def test_a_stick_of_six_thousand_feet_is_refused_in_spanish():
    field = LengthFormField()
    field.cut_of = "tube"
    with translation.override("es"), pytest.raises(ValidationError) as refused:
        field.clean("150'")
    said = "150' es más largo que cualquier tramo, que mide como máximo 98'. ¿Quiso decir 150\"?"
    assert refused.value.messages == [said]


def test_what_is_kept_of_it_is_english():
    with translation.override("es"), pytest.raises(LengthError, match="no length here"):
        parse_length(" ", Unit.FOOT)
