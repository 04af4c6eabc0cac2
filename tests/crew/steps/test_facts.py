"""What the crew reads where it works: on the task, on the day list, at the house and at the ridge."""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta
from decimal import Decimal
from html import unescape

import pytest

from farmbuild.crew.models import Task
from farmbuild.crew.steps import services
from farmbuild.crew.steps.facts import facts_of
from farmbuild.hoops.batches.services import create_batch
from farmbuild.sites.bridge import read_length
from farmbuild.sites.models import House
from tests.factories import FOOT, HouseFactory, OrganisationFactory, PersonFactory, SiteFactory
from tests.hoops.batches.making import make_shop
from tests.reading import with_spaces

pytestmark = pytest.mark.django_db

START = datetime(2087, 1, 6, 9, tzinfo=UTC)
SAID = ("at its side, never on top", "wider than its posts", "until the ridge is sighted", "Three people sight")


@pytest.fixture
def house(organisation, user, build):
    """With all its tasks on one day of Ash's crew."""
    row = build("12-ft-house")
    person = PersonFactory(crew__organisation=organisation, slug="ash")
    services.make_tasks(organisation=organisation, user=user, house=row)
    when = {"starts_at": START, "ends_at": START + timedelta(hours=3)}
    Task.objects.filter(house=row).update(crew=person.crew, **when)
    return row


def read(client, address: str) -> str:
    return unescape(with_spaces(client.get(address)))


def section(page: str, task: Task) -> str:
    return page[page.index(f'id="task-{task.pk}"') :].split("</section>")[0]


@pytest.mark.parametrize("kind", ["join", "set", "sight"])
def test_with_hoops_in_hand(signed_in, house, kind):
    task = Task.objects.get(house=house, kind=kind)
    day = section(read(signed_in, "/crew/day/?person=ash&day=2087-01-06"), task)
    page = read(signed_in, f"/crew/tasks/{task.pk}/")
    work = read(signed_in, f"/houses/{house.slug}/tasks/")
    step = work[work.index(f'<p id="{kind}">') :].split('<details class="fold">')[0]
    for html in (day, page, step):
        listed = html[html.index('<ul class="know">') :].split("</ul>")[0]
        assert [words for words in SAID if words in listed] == list(SAID)


def test_other_tasks_are_not_told(signed_in, house):
    page = read(signed_in, "/crew/day/?person=ash&day=2087-01-06")
    for task in Task.objects.filter(house=house).exclude(kind__in=("join", "set", "sight")):
        assert 'class="know"' not in section(page, task)


def test_the_number_is_that_of_the_house_as_it_is_now(signed_in, house):
    task = Task.objects.get(house=house, kind="set")
    before = read(signed_in, f"/crew/tasks/{task.pk}/")
    # 2 in narrower posts: the hoop stands 2 in further out.
    House.objects.filter(pk=house.pk).update(post_span=house.post_span - Decimal("50.8"))
    after = read(signed_in, f"/crew/tasks/{task.pk}/")
    numbers = [re.search(r"stands (\S+(?: \S+)*?) wider", page).group(1) for page in (before, after)]
    assert read_length(numbers[1]) - read_length(numbers[0]) == Decimal("50.8")


def test_the_number_of_the_batch_counts_where_one_bends_the_hoops(signed_in, organisation, user):
    """As its bending sheet says: posts 12 ft apart and hoops sprung in by 9 1/2 in."""
    shop = make_shop(organisation, user)
    house = HouseFactory(site=SiteFactory(organisation=organisation), recipe=shop.batch.recipe, post_span=FOOT * 12)
    task = Task.objects.create(organisation=organisation, house=house, kind="set", count=9, people=2, minutes=60)
    create_batch(
        **shop.who,
        recipe=shop.batch.recipe,
        bender=shop.batch.bender,
        quantity=13,
        shares={house: 6},
        data={"post_span": FOOT * 12, "spring_in": Decimal("241.3")},
    )
    page = read(signed_in, f"/crew/tasks/{task.pk}/")
    assert """The free hoop stands 9 1/2" wider than its posts: 12' 9 1/2" against 12'.""" in page


def test_the_survey_on_the_task_the_day_list_and_at_the_house(signed_in, house):
    task = Task.objects.get(house=house, kind="survey")
    day = section(read(signed_in, "/crew/day/?person=ash&day=2087-01-06"), task)
    page = read(signed_in, f"/crew/tasks/{task.pk}/")
    work = read(signed_in, f"/houses/{house.slug}/tasks/")
    for html in (day, page, work):
        # 48 x 12 ft: 593.727 in.
        assert """both diagonals, A to D and B to C, measure 49' 5 3/4".""" in html
        table = html[html.index('<details class="working on-paper">') :].split("</details>")[0]
        left = re.findall(r'data-label="Left, from A"><div>([^<]+)</div>', table)
        right = re.findall(r'data-label="Right, from B"><div>([^<]+)</div>', table)
        assert left == right == ["0", *(f"{4 * bay}'" for bay in range(1, 13))]
        drawing = html[html.index("marking out") :].split("</svg>")[0]
        assert drawing.count("<circle") == 26
        assert """both 49' 5 3/4\"""" in drawing
        assert [letter for letter in "ABCD" if f">{letter}</text>" in drawing] == list("ABCD")


def test_a_metric_crew_reads_metric(signed_in, organisation, house):
    organisation.unit_system = "metric"
    organisation.save()
    task = Task.objects.get(house=house, kind="survey")
    page = read(signed_in, f"/crew/tasks/{task.pk}/")
    assert "measure 15\u202f080 mm." in page
    assert "<div>1\u202f219 mm</div>" in page


def test_a_house_that_cannot_be_built_tells_nothing(signed_in, house):
    House.objects.filter(pk=house.pk).update(post_span=house.post_span * 5)
    for task in Task.objects.filter(house=house, kind__in=("survey", "set")):
        page = read(signed_in, f"/crew/tasks/{task.pk}/")
        assert 'class="know"' not in page
        assert "both diagonals" not in page


def test_as_many_queries_for_many_houses_as_for_one(organisation, user, build, django_assert_num_queries):
    for number in range(3):
        row = build("12-ft-house", name=f"House {number}")
        services.make_tasks(organisation=organisation, user=user, house=row)
    tasks = list(Task.objects.filter(organisation=organisation))
    # Houses, their own rows, the materials that they name, and the batches that bend for them.
    with django_assert_num_queries(4):
        assert len(facts_of(organisation=organisation, tasks=tasks)) == 3 * 4
    with django_assert_num_queries(0):
        assert facts_of(organisation=organisation, tasks=[task for task in tasks if task.kind == "posts"]) == {}
    assert facts_of(organisation=OrganisationFactory(), tasks=tasks) == {}


@pytest.mark.parametrize("address", ["fit/", "fit/measure/", "fit/sheet/"])
def test_who_sights_reads_it_at_the_ridge(signed_in, house, address):
    page = read(signed_in, f"/houses/{house.slug}/{address}")
    assert all(words in page for words in SAID)
