"""Pages of templates, rates and the work of a house."""

from __future__ import annotations

from datetime import date

import pytest
from django.urls import reverse

from farmbuild.crew.models import HouseWork, Kind, Rate, StepAfter, Task, WorkTemplate
from farmbuild.crew.steps import services
from tests.crew.hours.making import a_run, approved
from tests.factories import HouseFactory, SkillFactory
from tests.reading import text_of

pytestmark = pytest.mark.django_db


def sent(form, **changes) -> dict[str, str]:
    """What a browser sends for the form as it stands."""
    values = {}
    for box in form:
        value = box.value()
        if value is True:
            values[box.html_name] = "on"
        elif value not in (None, False):
            values[box.html_name] = getattr(value, "pk", value)
        elif value is None:
            values[box.html_name] = ""
    return {name: value for name, value in (values | changes).items() if value is not None}


@pytest.fixture
def template(organisation, user) -> WorkTemplate:
    return services.standard_template(organisation=organisation, user=user)


def shape_of(template) -> tuple[list, list]:
    steps = list(template.steps.order_by("kind").values_list("kind", "position", "people", "skill__name"))
    rows = StepAfter.objects.filter(step__template=template)
    return steps, sorted(rows.values_list("step__kind", "after__kind", "lag_minutes"))


def test_the_first_template_is_one_press_away(signed_in):
    page = signed_in.get(reverse("crew:templates"))
    assert "Start with the shipped steps" in text_of(page)
    signed_in.post(reverse("crew:template-standard"))
    assert WorkTemplate.objects.get().steps.count() == len(Kind.values)
    page = text_of(signed_in.get(reverse("crew:template", args=["pipe-framed-house"])))
    assert "Hip boards; Base boards; End walls; Anchors" in page
    assert "Caution: Pipe under spring load" in page


def test_saving_what_is_unchanged_changes_nothing(signed_in, organisation, template):
    skill = SkillFactory(organisation=organisation, name="Film")
    template.steps.filter(kind="film").update(skill=skill)
    StepAfter.objects.filter(step__kind="film", after__kind="hip").update(lag_minutes=90)
    before = shape_of(template)
    address = reverse("crew:template-edit", args=[template.slug])
    form = signed_in.get(address).context["form"]
    assert form["film_lag0"].value() == "1.5"
    assert signed_in.post(address, sent(form)).status_code == 302
    assert shape_of(template) == before


def test_people_skill_order_and_lag_are_changed_in_one_form(signed_in, organisation, template):
    skill = SkillFactory(organisation=organisation)
    address = reverse("crew:template-edit", args=[template.slug])
    changes = {"name": "Wide house", "set_people": "4", "set_skill": skill.pk, "posts_lag0": "12"}
    changes |= {"anchors_after0": "survey", "hip_in": None, "film_after0": ""}
    answer = signed_in.post(address, sent(signed_in.get(address).context["form"], **changes))
    assert answer.status_code == 302
    template.refresh_from_db()
    steps, waits = shape_of(template)
    by_kind = {kind: row for kind, *row in steps}
    assert template.name == "Wide house"
    assert by_kind["set"][1:] == [4, skill.name]
    assert ("posts", "survey", 720) in waits
    assert ("anchors", "survey", 0) in waits
    assert "hip" not in by_kind
    assert by_kind["anchors"][0] < by_kind["film"][0]


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"survey_after0": "film"}, None, "which waits for"),
        ({"posts_in": None}, "set_after0", "Ground posts is not part of this work. Tick it, or choose another step."),
        ({"bend_after0": "mark"}, "bend_after0", "Bend the batch has to wait for the trial hoop."),
        ({"film_after1": "hip"}, "film_after1", "Hip boards is chosen twice. Choose Nothing here."),
        ({"survey_lag0": "3"}, "survey_after0", "Choose the step after which these hours count"),
        ({"posts_lag0": "soon"}, "posts_lag0", "Type hours of waiting from 0 to 1,440, for example 12 or 0.5."),
        ({"posts_people": "0"}, "posts_people", "Type a whole number from 1 to 50."),
        ({"name": ""}, "name", "Type which houses it is for"),
    ],
)
def test_mistakes_are_said_at_the_box_and_nothing_typed_is_lost(signed_in, template, changes, field, words):
    before = shape_of(template)
    address = reverse("crew:template-edit", args=[template.slug])
    answer = signed_in.post(address, sent(signed_in.get(address).context["form"], base_people="7", **changes))
    assert answer.status_code == 200
    form = answer.context["form"]
    said = form.errors if field is None else {field: form.errors[field]}
    assert words in str(said)
    assert words.split("'")[0] in text_of(answer)
    assert form["base_people"].value() == "7"
    assert shape_of(template) == before


def test_a_circle_names_its_steps(signed_in, template):
    address = reverse("crew:template-edit", args=[template.slug])
    changes = {"trial_after0": "join", "mark_in": None}
    page = text_of(signed_in.post(address, sent(signed_in.get(address).context["form"], **changes)))
    for name in ("Trial hoop", "Bend the batch", "Join and screw"):
        assert f"waits for {name}" in page


def test_a_template_is_added_and_removed(signed_in, template):
    address = reverse("crew:template-new")
    form = signed_in.get(address).context["form"]
    assert "called Pipe-framed house already" in text_of(signed_in.post(address, sent(form, name=template.name)))
    signed_in.post(address, sent(form, name="Low tunnel"))
    assert WorkTemplate.objects.count() == 2
    signed_in.post(reverse("crew:template-remove", args=["low-tunnel"]))
    assert WorkTemplate.objects.get() == template


class TestRates:
    def test_they_are_estimates_until_saved(self, signed_in):
        page = signed_in.get(reverse("crew:rates"))
        assert text_of(page).count("Our own estimate, no source.") == len(Kind.values)
        signed_in.post(reverse("crew:rates"), sent(page.context["form"], bend_each="1.75"))
        assert Rate.objects.get(kind="bend").minutes_each * 4 == 7
        assert text_of(signed_in.get(reverse("crew:rates"))).count("Our own estimate") == len(Kind.values) - 1

    def test_a_wrong_one_is_said_at_its_box(self, signed_in):
        form = signed_in.get(reverse("crew:rates")).context["form"]
        answer = signed_in.post(reverse("crew:rates"), sent(form, bend_each="fast", film_once="7"))
        assert "Type minutes as a number from 0 to 10,000" in text_of(answer)
        assert answer.context["form"]["film_once"].value() == "7"
        assert not Rate.objects.exists()

    def test_the_median_of_a_row_is_used_and_what_was_typed_is_kept(self, signed_in, organisation, user, build):
        services.make_tasks(organisation=organisation, user=user, house=build("12-ft-house"))
        for day, ends in enumerate(("10:20", "10:30", "11:10")):
            approved(a_run(Task.objects.get(kind="bend"), ends=ends, day=day, people=2, done=20))
        page = signed_in.get(reverse("crew:rates"))
        # 2, 3 and 7 minutes a pull.
        assert "Recorded 3 times: median 3, from 2 to 7 person-minutes for each: pull." in text_of(page)
        signed_in.post(reverse("crew:rates"), sent(page.context["form"], film_each="9", median="bend"))
        rates = {row.kind: (row.minutes_each, row.minutes_once) for row in Rate.objects.all()}
        assert rates["bend"] == (3, 0)
        assert rates["film"] == (9, 120)

    def test_tasks_not_begun_take_the_time_of_new_rates_at_one_press(self, signed_in, organisation, user, build):
        """Anchors: 20 minutes each and 15 once for one person; at 40 each the same count takes as much longer."""
        house = build("12-ft-house")
        services.make_tasks(organisation=organisation, user=user, house=house)
        anchors, posts = Task.objects.get(kind="anchors"), Task.objects.get(kind="posts")
        Task.objects.filter(pk=posts.pk).update(state=Task.State.STARTED)
        page = signed_in.get(reverse("crew:rates"))
        assert "earlier rates" not in text_of(page) and "Minutes for each: anchor" in text_of(page)
        form = page.context["form"]
        page = signed_in.post(reverse("crew:rates"), sent(form, anchors_each="40", posts_each="99"), follow=True)
        assert "1 task that is not begun has the time of earlier rates." in text_of(page)
        answer = text_of(signed_in.post(reverse("crew:rates-use"), follow=True))
        assert "Changed: 1 task." in answer and "earlier rates" not in answer
        quarters = -(-(anchors.count * 40 + 15) // 15)
        assert Task.objects.get(kind="anchors").minutes == quarters * 15
        assert Task.objects.get(kind="posts").minutes == posts.minutes


class TestHouse:
    def test_its_tasks_are_made_from_its_page(self, signed_in, build, template):
        house = build("12-ft-house")
        address = reverse("crew:house-work", args=[house.slug])
        assert address in text_of(signed_in.get(house.get_absolute_url()))
        page = text_of(signed_in.get(address))
        assert "It has no tasks yet" in page
        assert "168 x 2 + 30 = 366 person-minutes; shared by 2: 183 minutes; rounded up to quarter hours: 195" in page
        for words in ("Working high", "Pipe under spring load", "Digging and driving posts", "Wind", "Eyes and hands"):
            assert f"Caution: {words}" in page
        signed_in.post(address, {"template": template.pk, "due": "2027-06-15"})
        work = HouseWork.objects.get()
        assert (work.house, work.template, work.due) == (house, template, date(2027, 6, 15))
        assert Task.objects.filter(house=house).count() == len(Kind.values)
        page = text_of(signed_in.get(address))
        assert "to stand by 15 June 2027. Its tasks are up to date." in page

    def test_tasks_of_an_older_spec_are_said_to_be_so(self, signed_in, build, template):
        house = build("12-ft-house")
        address = reverse("crew:house-work", args=[house.slug])
        signed_in.post(address, {"template": template.pk, "due": ""})
        house.length *= 2
        house.save()
        page = text_of(signed_in.get(address))
        assert "Its tasks are not up to date." in page
        assert "The task made says 168 pulls, 2 people, 3 h 15 min." in page
        signed_in.post(address, {"template": template.pk, "due": ""})
        assert "Its tasks are up to date." in text_of(signed_in.get(address))

    def test_a_tunnel_says_what_is_left_out(self, signed_in, build, template):
        page = text_of(signed_in.get(reverse("crew:house-work", args=[build("low-tunnel-3-4").slug])))
        assert "Each hoop is one stick, so nothing is joined." in page
        assert "after Ground posts; Bend the batch" in page

    def test_a_date_that_is_none(self, signed_in, build, template):
        address = reverse("crew:house-work", args=[build("12-ft-house").slug])
        answer = signed_in.post(address, {"template": template.pk, "due": "soon"})
        assert "Type a date, for example 2027-05-12." in text_of(answer)
        assert not Task.objects.exists()

    def test_without_a_template_it_offers_the_usual_steps(self, signed_in, build):
        house = build("12-ft-house")
        address = reverse("crew:house-work", args=[house.slug])
        assert "There are no steps yet." in text_of(signed_in.get(address))
        answer = signed_in.post(reverse("crew:template-standard"), {"house": house.slug})
        assert answer["Location"] == address


def test_rows_of_another_organisation_are_not_found(signed_in, user):
    other = HouseFactory()
    foreign = services.standard_template(organisation=other.organisation, user=None)
    gets = [reverse(f"crew:{name}", args=[foreign.slug]) for name in ("template", "template-edit")]
    for address in [*gets, reverse("crew:house-work", args=[other.slug])]:
        assert signed_in.get(address).status_code == 404
    posts = [reverse("crew:template-remove", args=[foreign.slug]), reverse("crew:house-work", args=[other.slug])]
    assert [signed_in.post(address).status_code for address in posts] == [404, 404]
    assert WorkTemplate.objects.get() == foreign


def test_another_organisations_template_is_no_choice(signed_in, build, user, template):
    other = HouseFactory()
    foreign = services.standard_template(organisation=other.organisation, user=None)
    address = reverse("crew:house-work", args=[build("12-ft-house").slug])
    answer = signed_in.post(address, {"template": foreign.pk, "due": ""})
    assert "not on the list" in text_of(answer)
    assert not Task.objects.exists()
