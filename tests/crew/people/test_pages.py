"""Pages of people and crews: added, edited, archived; hours, days off and journeys; what is refused; whose rows."""

from __future__ import annotations

from datetime import date, time

import pytest
from django.urls import reverse

from farmbuild.crew.models import Crew, CrewSettings, DayOff, Person, Skill, Travel, WorkWeek
from tests.factories import (
    CrewFactory,
    DayOffFactory,
    MembershipFactory,
    PersonFactory,
    SiteFactory,
    SkillFactory,
    WorkWeekFactory,
)
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def week_sent(**changes) -> dict[str, str]:
    usual = {"name": "Spring", "day0_0_starts": "07:00", "day0_0_ends": "12:00"}
    return usual | changes


def hours_of(week: WorkWeek) -> list[tuple[int, time, time]]:
    return list(week.hours.values_list("day", "starts", "ends"))


# People and crews


def test_a_person_is_added_edited_archived_and_brought_back(signed_in, organisation, user):
    crew, skill = CrewFactory(organisation=organisation), SkillFactory(organisation=organisation)
    sent = {"name": "Fenn Aldous", "crew": crew.pk, "skills": [skill.pk], "user": user.pk}
    assert signed_in.post(reverse("crew:person-new"), sent)["Location"] == "/crew/people/fenn-aldous/"
    row = Person.objects.get()
    assert (row.crew, list(row.skills.all()), row.user) == (crew, [skill], user)
    assert skill.name in text_of(signed_in.get(row.get_absolute_url()))
    edit = reverse("crew:person-edit", args=[row.slug])
    assert signed_in.get(edit).context["form"]["user"].value() == user.pk
    assert signed_in.post(edit, {"name": "Fenn", "crew": ""}).status_code == 302
    row.refresh_from_db()
    assert (row.name, row.slug, row.crew, row.skills.count(), row.user) == ("Fenn", "fenn-aldous", None, 0, None)
    assert "1 is in no crew in use" in text_of(signed_in.get(reverse("crew:people")))
    signed_in.post(reverse("crew:person-archive", args=[row.slug]))
    people = reverse("crew:people")
    assert "Fenn</a>" not in text_of(signed_in.get(people))
    assert "Fenn</a>" in text_of(signed_in.get(people, {"archived": "1"}))
    signed_in.post(reverse("crew:person-bring-back", args=[row.slug]))
    assert "Fenn</a>" in text_of(signed_in.get(people))


def test_a_crew_is_added_edited_archived_and_brought_back(signed_in, organisation):
    first = signed_in.get(reverse("crew:crew-new"))
    assert first["Location"] == reverse("crew:week-new")  # no hours yet
    week, other = WorkWeekFactory(organisation=organisation), WorkWeekFactory(organisation=organisation)
    assert signed_in.post(reverse("crew:crew-new"), {"name": "Film crew", "week": week.pk}).status_code == 302
    crew = Crew.objects.get()
    assert crew.slug == "film-crew"
    assert "Nobody is in this crew yet" in text_of(signed_in.get(crew.get_absolute_url()))
    PersonFactory(crew=crew, name="Pia")
    page = text_of(signed_in.get(crew.get_absolute_url()))
    assert "1 person, 42 h 30 min a week." in page
    assert "Monday to Friday 07:00 to 12:00 and 12:30 to 16:00" in page
    assert "Pia</a>" in page
    signed_in.post(reverse("crew:crew-edit", args=[crew.slug]), {"name": "Film", "week": other.pk})
    crew.refresh_from_db()
    assert (crew.name, crew.slug, crew.week) == ("Film", "film-crew", other)
    answer = signed_in.post(reverse("crew:crew-archive", args=[crew.slug]), follow=True)
    assert "Move its people to another crew: 1." in text_of(answer)
    assert "which is archived" in text_of(signed_in.get(Person.objects.get().get_absolute_url()))
    # The form keeps the archived crew for whoever is in it, and offers it to nobody else.
    edit = signed_in.get(reverse("crew:person-edit", args=[Person.objects.get().slug]))
    assert crew in edit.context["form"].fields["crew"].queryset
    assert crew not in signed_in.get(reverse("crew:person-new")).context["form"].fields["crew"].queryset
    signed_in.post(reverse("crew:crew-bring-back", args=[crew.slug]))
    crew.refresh_from_db()
    assert crew.archived_at is None


@pytest.mark.parametrize("made", [CrewFactory, PersonFactory])
def test_a_name_is_given_once_and_an_archived_one_waits_for_it(signed_in, organisation, made):
    given = {"organisation": organisation} if made is CrewFactory else {"crew__organisation": organisation}
    kind = "crew" if made is CrewFactory else "person"
    first = made(**given, name="Ridge")
    sent = {"name": "RIDGE", "week": first.week.pk if made is CrewFactory else ""}
    page = signed_in.post(reverse(f"crew:{kind}-new"), sent)
    assert page.context["form"].errors == {"name": [f"There is a {kind} called RIDGE already. Type another name."]}
    signed_in.post(reverse(f"crew:{kind}-archive", args=[first.slug]))
    assert signed_in.post(reverse(f"crew:{kind}-new"), sent).status_code == 302
    answer = signed_in.post(reverse(f"crew:{kind}-bring-back", args=[first.slug]), follow=True)
    assert f"There is a {kind} called Ridge already" in text_of(answer)
    first.refresh_from_db()
    assert first.archived_at


def test_a_sign_in_is_one_person(signed_in, organisation, user):
    PersonFactory(crew__organisation=organisation, user=user)
    outsider = MembershipFactory().user
    for taken in (user, outsider):
        page = signed_in.post(reverse("crew:person-new"), {"name": "Second", "user": taken.pk})
        assert "not free any more" in page.context["form"].errors["user"][0]
    assert Person.objects.count() == 1


def test_skills_are_added_renamed_and_removed(signed_in, organisation):
    signed_in.post(reverse("crew:skill-new"), {"name": " Ladder work "})
    skill = Skill.objects.get()
    assert skill.name == "Ladder work"
    page = signed_in.post(reverse("crew:skill-new"), {"name": "ladder WORK"})
    assert "already" in page.context["form"].errors["name"][0]
    signed_in.post(reverse("crew:skill", args=[skill.pk]), {"name": "Ladders"})
    assert Skill.objects.get().name == "Ladders"
    signed_in.post(reverse("crew:skill-remove", args=[skill.pk]))
    assert not Skill.objects.exists()


# Hours of a week


def test_a_week_is_typed_changed_and_removed(signed_in, organisation):
    new = reverse("crew:week-new")
    assert signed_in.get(new).context["form"]["day4_1_ends"].value() == "16:00"
    assert signed_in.get(new).context["form"]["day5_0_starts"].value() is None
    sent = week_sent(day0_1_starts="12:30", day0_1_ends="16:00", day5_1_starts="08:00", day5_1_ends="11:15")
    assert signed_in.post(new, sent).status_code == 302
    week = WorkWeek.objects.get()
    assert hours_of(week) == [
        (0, time(7), time(12)),
        (0, time(12, 30), time(16)),
        (5, time(8), time(11, 15)),
    ]
    edit = reverse("crew:week", args=[week.pk])
    form = signed_in.get(edit).context["form"]
    assert f"{form['day5_0_ends'].value():%H:%M}" == "11:15"
    assert 'value="11:15"' in text_of(signed_in.get(edit))
    signed_in.post(edit, week_sent(name="Short week"))
    week.refresh_from_db()
    assert (week.name, hours_of(week)) == ("Short week", [(0, time(7), time(12))])
    signed_in.post(reverse("crew:week-remove", args=[week.pk]))
    assert not WorkWeek.objects.exists()


@pytest.mark.parametrize(
    ("sent", "at", "says"),
    [
        ({"name": ""}, "name", "Type what this week is called"),
        ({"day0_0_starts": "seven"}, "day0_0_starts", "Monday: Type a time as hours and minutes"),
        ({"day0_0_starts": "25:00"}, "day0_0_starts", "Monday: Type a time as hours and minutes"),
        ({"day0_0_starts": "07:10"}, "day0_0_starts", "quarter of an hour"),
        ({"day0_0_ends": "12:01"}, "day0_0_ends", "quarter of an hour"),
        ({"day0_0_ends": "07:00"}, "day0_0_ends", "Monday starts at 07:00. Type a later end"),
        ({"day0_0_ends": "06:00"}, "day0_0_ends", "Monday starts at 07:00. Type a later end"),
        ({"day0_0_ends": ""}, "day0_0_ends", "Type when Monday ends too"),
        ({"day0_0_starts": ""}, "day0_0_starts", "Type when Monday starts too"),
        ({"day0_1_starts": "11:45", "day0_1_ends": "13:00"}, "day0_1_starts", "worked until 12:00 already"),
        ({"day0_1_starts": "06:00", "day0_1_ends": "08:00"}, "day0_0_starts", "worked until 08:00 already"),
        ({"day0_0_starts": "", "day0_0_ends": ""}, "__all__", "Type the hours of at least one day"),
    ],
)
def test_what_is_wrong_stands_at_its_box_and_nothing_typed_is_lost(signed_in, sent, at, says):
    sent = week_sent(day3_0_starts="09:15", **sent) if at != "__all__" else week_sent(**sent)
    if at != "__all__":
        sent["day3_0_ends"] = "10:30"
    page = signed_in.post(reverse("crew:week-new"), sent)
    errors = page.context["form"].errors
    assert list(errors) == [at]
    assert says in errors[at][0]
    assert not WorkWeek.objects.exists()
    for name, value in sent.items():
        assert page.context["form"][name].value() == value


def test_hours_that_touch_are_fine(signed_in, organisation):
    signed_in.post(reverse("crew:week-new"), week_sent(day0_1_starts="12:00", day0_1_ends="13:00"))
    assert len(hours_of(WorkWeek.objects.get())) == 2


def test_a_week_of_a_crew_is_not_removed(signed_in, organisation):
    crew = CrewFactory(organisation=organisation, name="Film crew")
    answer = signed_in.post(reverse("crew:week-remove", args=[crew.week.pk]), follow=True)
    assert "Crews work by these hours: Film crew." in text_of(answer)
    assert WorkWeek.objects.count() == 1


def test_a_week_of_three_stretches_a_day_keeps_them(signed_in, organisation):
    spans = [(0, time(6), time(8)), (0, time(9), time(11)), (0, time(12), time(14))]
    week = WorkWeekFactory(organisation=organisation, hours=spans)
    address = reverse("crew:week", args=[week.pk])
    form = signed_in.get(address).context["form"]
    values = {name: form[name].value() for name in form.fields}
    sent = {name: f"{value:%H:%M}" if isinstance(value, time) else value for name, value in values.items() if value}
    assert signed_in.post(address, sent).status_code == 302
    assert hours_of(week) == spans


# Days off


def test_days_off_are_entered_and_removed(signed_in, organisation):
    person = PersonFactory(crew__organisation=organisation, name="Fenn")
    new = reverse("crew:day-off-new")
    assert signed_in.get(new, {"person": person.slug}).context["form"]["person"].value() == person.pk
    sent = {"person": person.pk, "first": "2087-03-08", "last": "2087-03-12", "reason": "Family"}
    assert signed_in.post(f"{new}?person={person.slug}", sent)["Location"] == person.get_absolute_url()
    row = DayOff.objects.get()
    assert (row.person, row.first, row.last) == (person, date(2087, 3, 8), date(2087, 3, 12))
    assert not signed_in.post(new, {"first": "2087-05-31"}).context["form"].is_valid()
    said = signed_in.post(new, {"person": "everybody", "first": "2087-05-31"}, follow=True)
    assert "Everybody is off 31 May 2087." in text_of(said)
    everybody = DayOff.objects.get(person=None)
    assert everybody.last == date(2087, 5, 31)
    page = text_of(signed_in.get(reverse("crew:days-off")))
    assert "2 entries from today on" in page
    assert "Everybody" in page
    assert "8 March 2087" in text_of(signed_in.get(person.get_absolute_url()))
    assert "Fenn is off 8 March 2087 to 12 March 2087: Family." in text_of(
        signed_in.get(reverse("crew:day-off", args=[row.pk]))
    )
    signed_in.post(reverse("crew:day-off-remove", args=[row.pk]))
    assert list(DayOff.objects.all()) == [everybody]
    DayOffFactory(organisation=organisation, first=date(2020, 1, 1))
    assert "1 January 2020" not in text_of(signed_in.get(reverse("crew:days-off")))
    assert "1 January 2020" in text_of(signed_in.get(reverse("crew:days-off"), {"past": "1"}))


@pytest.mark.parametrize(
    ("sent", "at", "says"),
    [
        ({"first": ""}, "first", "Type the day"),
        ({"first": "2087-02-30"}, "first", "a day that the calendar has"),
        ({"last": "2087-03-07"}, "last", "before 8 March 2087"),
        ({"last": "2101-01-01"}, "last", "too far off"),
        ({"first": "2087-05-03", "last": "2087-05-04"}, "first", "Everybody has 4 May 2087 to 6 May 2087 off already"),
    ],
)
def test_days_off_that_cannot_be_are_refused(signed_in, organisation, sent, at, says):
    DayOffFactory(organisation=organisation, first=date(2087, 5, 4), last=date(2087, 5, 6))
    page = signed_in.post(
        reverse("crew:day-off-new"), {"person": "everybody", "first": "2087-03-08", "last": ""} | sent
    )
    assert says in page.context["form"].errors[at][0]
    assert DayOff.objects.count() == 1


# Journeys and settings


def test_journeys_between_sites_are_one_form(signed_in, organisation):
    sites = [SiteFactory(organisation=organisation, name=name) for name in ("Creek", "North", "Orchard")]
    SiteFactory(name="Elsewhere")
    page = signed_in.get(reverse("crew:travel"))
    form = page.context["form"]
    assert [field.label for field in form] == ["Creek to North", "Creek to Orchard", "North to Orchard"]
    names = list(form.fields)
    assert signed_in.post(reverse("crew:travel"), {names[0]: "20", names[2]: "0"}).status_code == 302
    stored = {(row.one.name, row.other.name): row.minutes for row in Travel.objects.all()}
    assert stored == {("Creek", "North"): 20, ("North", "Orchard"): 0}
    assert all(row.organisation == organisation for row in Travel.objects.all())
    assert signed_in.get(reverse("crew:travel")).context["form"][names[0]].value() == 20
    signed_in.post(reverse("crew:travel"), {names[2]: "45"})
    assert [(row.one, row.minutes) for row in Travel.objects.all()] == [(sites[1], 45)]
    for wrong in ("-1", "1441", "soon", "2.5"):
        page = signed_in.post(reverse("crew:travel"), {names[0]: wrong, names[2]: "10"})
        assert page.context["form"].errors[names[0]] == ["Type a whole number from 0 to 1440."]
    assert Travel.objects.get().minutes == 45


def test_of_many_sites_the_journeys_of_one_are_shown(signed_in, organisation):
    for number in range(60):
        SiteFactory(organisation=organisation, name=f"Site {number:02}", slug=f"site-{number:02}")
    address = reverse("crew:travel")
    page = signed_in.get(address, {"from": "site-30", "page": "2"})
    assert [field.label for field in page.context["form"]] == [f"Site 30 to Site {n}" for n in range(51, 60)]
    name = next(iter(page.context["form"].fields))
    answer = signed_in.post(f"{address}?from=site-30&page=2", {name: "25"})
    assert answer["Location"] == f"{address}?from=site-30&page=2"
    row = Travel.objects.get()
    assert ({row.one.name, row.other.name}, row.minutes) == ({"Site 30", "Site 51"}, 25)
    # Seen from the other end it is the same journey.
    page = signed_in.get(address, {"from": "site-51"})
    assert [field.value() for field in page.context["form"] if field.value() is not None] == [25]


def test_the_settings_hold_for_the_organisation(signed_in, organisation):
    address = reverse("crew:settings")
    assert signed_in.post(address, {"travel_minutes": "45"}).status_code == 302
    row = CrewSettings.objects.get()
    assert (row.organisation, row.travel_minutes) == (organisation, 45)
    organisation.time_zone = "Europe/Vienna"
    organisation.save()
    assert "clocks of Europe/Vienna" in text_of(signed_in.get(address))
    page = signed_in.post(address, {"travel_minutes": "2000"})
    assert set(page.context["form"].errors) == {"travel_minutes"}
    row.refresh_from_db()
    assert row.travel_minutes == 45


# Whose rows


def test_another_organisation_has_none_of_these_pages(signed_in, organisation):
    person = PersonFactory(skills=[])
    skill = SkillFactory(organisation=person.organisation)
    off = DayOffFactory(organisation=person.organisation, person=person, first=date(2087, 1, 1))
    crew = person.crew
    shown = [
        person.get_absolute_url(),
        reverse("crew:person-edit", args=[person.slug]),
        crew.get_absolute_url(),
        reverse("crew:crew-edit", args=[crew.slug]),
        reverse("crew:skill", args=[skill.pk]),
        reverse("crew:week", args=[crew.week.pk]),
        reverse("crew:day-off", args=[off.pk]),
    ]
    done = [
        reverse("crew:person-archive", args=[person.slug]),
        reverse("crew:person-bring-back", args=[person.slug]),
        reverse("crew:crew-archive", args=[crew.slug]),
        reverse("crew:crew-bring-back", args=[crew.slug]),
        reverse("crew:skill-remove", args=[skill.pk]),
        reverse("crew:week-remove", args=[crew.week.pk]),
        reverse("crew:day-off-remove", args=[off.pk]),
    ]
    assert [signed_in.get(address).status_code for address in shown] == [404] * len(shown)
    assert [signed_in.post(address).status_code for address in shown + done] == [404] * len(shown + done)
    for name in ("people", "crews", "skills", "weeks", "days-off"):
        page = text_of(signed_in.get(reverse(f"crew:{name}")))
        assert not any(row.name in page for row in (person, crew, skill, crew.week))
    page = signed_in.post(reverse("crew:person-new"), {"name": "New", "crew": crew.pk, "skills": [skill.pk]})
    assert set(page.context["form"].errors) <= {"crew", "skills"}
    page = signed_in.post(reverse("crew:day-off-new"), {"person": person.pk, "first": "2087-01-01"})
    assert "person" in page.context["form"].errors


def test_a_stranger_is_sent_to_sign_in(client):
    for name in ("people", "crews", "skills", "weeks", "days-off", "travel", "settings"):
        assert client.get(reverse(f"crew:{name}")).status_code == 302
