"""A bender by what it says it makes: the span on it, a hoop measured, or its radius; the working is shown."""

from __future__ import annotations

from decimal import Decimal
from math import pi, sin

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from farmbuild.hoops.benders import services
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.benders.worked_out import working
from tests.factories import FOOT, INCH
from tests.reading import text_of

pytestmark = pytest.mark.django_db

LABEL = {"way": "label", "rated_span": "12'", "label_sticks": "2", "label_stick_length": "10'", "label_insertion": '4"'}
HOOP = {"way": "hoop", "bent_span": "12'", "bent_rise": "5'"}
RADIUS = {"way": "radius", "rated_radius": "6' 4\""}


def sent(way: dict[str, str], **changes: str) -> dict[str, str]:
    return {"name": "Yard bender", "owner": "", "kept_at": ""} | way | changes


def add(client, way: dict[str, str], **changes: str):
    return client.post(reverse("hoops:bender-new"), sent(way, **changes))


def near(length: Decimal, inches: float) -> bool:
    return abs(float(length) / 25.4 - inches) < 1e-5


def test_a_new_bender_begins_with_the_span_on_it_and_usual_sticks(signed_in, organisation):
    form = signed_in.get(reverse("hoops:bender-new")).context["form"]
    shown = [form[name].value() for name in ("way", "label_sticks", "label_stick_length", "label_insertion")]
    assert shown == ["label", 2, "10'", '4"']
    organisation.unit_system = "metric"
    organisation.save()
    form = signed_in.get(reverse("hoops:bender-new")).context["form"]
    assert [form[name].value() for name in ("label_stick_length", "label_insertion")] == [
        "3\u202f000 mm", "100 mm",
    ]  # fmt: skip


def test_a_12_ft_hoop_of_two_sticks_is_a_half_circle_with_legs(signed_in):
    made = add(signed_in, LABEL)
    row = Bender.objects.get()
    # 236 in of pipe is more than 144 in times half of pi, 226.2 in.
    assert near(row.rated_radius, 72)
    assert row.rated_span == FOOT * 12
    page = text_of(signed_in.get(made["Location"]))
    assert "2 sticks of 10&#x27;, less 4&quot; at each joint, come to 19&#x27; 8&quot; of pipe." in page
    assert "a half circle with straight legs of 4 7/8&quot;" in page
    assert "its radius is half of the span: 6&#x27;." in page


def test_a_wide_span_is_an_arc_whose_chord_it_is(signed_in):
    add(signed_in, LABEL, rated_span="16'")
    radius = float(Bender.objects.get().rated_radius) / 25.4
    # The arc of 236 in over a chord of 192 in: 2 R sin(D / 2R).
    assert abs(2 * radius * sin(236 / (2 * radius)) - 192) < 1e-4
    assert 236 / radius < pi
    assert any("an arc of" in sentence for sentence in working(Bender.objects.get()))


def test_a_hoop_measured_gives_the_circle_through_its_ends_and_crown(signed_in):
    made = add(signed_in, HOOP)
    row = Bender.objects.get()
    # 144² / (8 × 60) + 30.
    assert near(row.rated_radius, 73.2)
    assert row.rated_span == FOOT * 12, "as wide as the hoop where nothing is said"
    assert "The hoop stood 12&#x27; wide and 5&#x27; high, free." in text_of(signed_in.get(made["Location"]))


def test_a_radius_by_number_has_no_working(signed_in):
    made = add(signed_in, RADIUS)
    row = Bender.objects.get()
    assert (row.rated_radius, row.rated_span) == (INCH * 76, INCH * 152)
    assert "How it was worked out" not in text_of(signed_in.get(made["Location"]))


@pytest.mark.parametrize(
    ("way", "change", "field", "says"),
    [
        (LABEL, {"rated_span": ""}, "rated_span", "Type the span that the bender says"),
        (LABEL, {"rated_span": "20'"}, "label_sticks", "2 sticks of 10' come to 19' 8\" of pipe, which does not reach"),
        (LABEL, {"label_sticks": "0"}, "label_sticks", "from 1 to 12"),
        (LABEL, {"label_insertion": "10'"}, "label_insertion", "less than the length of one stick"),
        (LABEL, {"label_stick_length": ""}, "label_stick_length", "Type the length of one stick"),
        (LABEL, {"label_stick_length": "200'"}, "label_stick_length", ""),
        (HOOP, {"bent_rise": ""}, "bent_rise", "Measure from the line"),
        (HOOP, {"bent_rise": "7'"}, "bent_rise", "more than half of the span, 6': part of this hoop is straight"),
        (HOOP, {"bent_span": "wide"}, "bent_span", "cannot be read"),
        (RADIUS, {"rated_radius": ""}, "rated_radius", "the radius that its maker states"),
    ],
)
def test_what_does_not_make_a_hoop_is_refused_at_its_field(signed_in, way, change, field, says):
    form = add(signed_in, way, **change).context["form"]
    assert set(form.errors) == {field}
    assert says in form.errors[field][0]
    assert all(form[name].value() == typed for name, typed in change.items())
    assert not Bender.objects.exists()


def test_boxes_of_another_way_are_neither_read_nor_stored(signed_in):
    add(signed_in, RADIUS, bent_span="a frog", label_sticks="99", label_stick_length="")
    row = Bender.objects.get()
    assert (row.way, row.bent_span, row.label_sticks) == ("radius", None, None)


def test_the_working_is_shown_before_it_is_saved(signed_in):
    looked = add(signed_in, LABEL, look="1")
    assert "Worked out, not saved yet" in looked.content.decode()
    assert "its radius is half of the span" in text_of(looked)
    assert not Bender.objects.exists()
    assert "Worked out, not saved yet" not in add(signed_in, LABEL, look="1", rated_span="20'").content.decode()


def test_changed_later_to_a_radius_it_forgets_the_hoop(signed_in, organisation, user):
    add(signed_in, HOOP)
    row = Bender.objects.get()
    edit = reverse("hoops:bender-edit", args=[row.slug])
    form = signed_in.get(edit).context["form"]
    assert [form[name].value() for name in ("way", "bent_span", "bent_rise")] == ["hoop", "12'", "5'"]
    opened = {"opened": form["opened"].value()}
    assert signed_in.post(edit, sent(HOOP, bent_rise="4'", rated_span="12'", **opened)).status_code == 302
    row.refresh_from_db()
    # 144² / (8 × 48) + 24.
    assert near(row.rated_radius, 78)
    assert signed_in.post(edit, sent(RADIUS, rated_span="14'")).status_code in (200, 302)
    services.save_bender(organisation=organisation, user=user, bender=row, data={"rated_radius": INCH * 90})
    row.refresh_from_db()
    assert (row.way, row.rated_radius) == ("radius", INCH * 90)
    assert working(row) == []


def test_services_refuse_what_the_pages_do(organisation, user):
    who = {"organisation": organisation, "user": user}
    with pytest.raises(ValidationError) as refused:
        services.create_bender(**who, data={"name": "B", "way": "hoop", "bent_span": FOOT * 12})
    assert set(refused.value.message_dict) == {"bent_rise"}
    made = services.create_bender(**who, data={"name": "B", "rated_radius": FOOT * 6})
    assert made.rated_span == FOOT * 12
