"""The yard: plans to one scale, filled as work is recorded, and the next step of the season."""

from __future__ import annotations

import re
from datetime import datetime, time, timedelta
from decimal import Decimal
from hashlib import sha256

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from farmbuild.buying.models import PurchaseOrder, PurchaseOrderLine, SentWorkbook
from farmbuild.crew.actuals.taking_back import take_back
from farmbuild.crew.models import Kind, Task, WindForecast, WindLimit
from farmbuild.hoops.batches.services import create_batch
from farmbuild.measure import format_day
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.plans.accepting import accept_plan
from farmbuild.plans.services import create_plan, work_out_plan
from farmbuild.sites.models import House
from farmbuild.sites.services import archive_house, archive_site
from farmbuild.sites.yard.standing import next_steps_of
from farmbuild.stock.models import Reservation
from tests.crew.daylist.test_ticks import a_day, press
from tests.factories import (
    FOOT,
    HouseFactory,
    LotFactory,
    MaterialFactory,
    MembershipFactory,
    SiteFactory,
    SupplierFactory,
)
from tests.hoops.batches.making import TARGET, Shop, make_bender
from tests.plans.small_season import small_season
from tests.quality.test_query_counts import more_houses, more_orders, more_tasks, more_wind
from tests.reading import text_of

pytestmark = pytest.mark.django_db
STRIP = re.compile(
    r'<svg class="house-plan" viewBox="(.*?)".*?<title>(.*?) in plan</title><desc>(.*?)</desc>(.*?)</svg>'
)


class Drawn:
    """One strip as it stands on a page, measured."""

    def __init__(self, view: str, desc: str, body: str) -> None:
        self.view, self.desc, self.body = [float(n) for n in view.split()], desc, body
        edge = re.search(r'<rect class="(\w+)" x="[\d.-]+" y="[\d.-]+" width="([\d.]+)" height="([\d.]+)"', body)
        self.edge, self.length, self.span = edge[1], float(edge[2]), float(edge[3])

    def count(self, kind: str) -> int:
        """Strokes or fields of that kind."""
        return sum(d.count("M") for d in re.findall(rf'<path class="{kind}" d="(.*?)"', self.body))


def drawn_on(response) -> dict[str, Drawn]:
    assert response.status_code == 200
    return {title: Drawn(view, desc, body) for view, title, desc, body in STRIP.findall(text_of(response))}


def yard(client, **asked) -> dict[str, Drawn]:
    return drawn_on(client.get(reverse("sites:houses"), asked))


def task_at(house: House, kind: Kind, count: int, **more) -> Task:
    return Task.objects.create(organisation=house.organisation, house=house, kind=kind, count=count, **more)


def batch_for(house: House, user) -> Shop:
    """All 13 hoops of the house, on a bender of its own."""
    recipe = house.recipe
    bender = make_bender(house.organisation)
    data = {"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12}
    given = {"recipe": recipe, "bender": bender, "quantity": 13, "shares": {house: 13}}
    batch = create_batch(organisation=house.organisation, user=user, data=data, **given)
    return Shop(house.organisation, user, batch, LotFactory(material=recipe.tube, on_hand=60))


@pytest.fixture(autouse=True)
def under_way(organisation):
    """A season that is no first one: its list would stand first."""
    organisation.invented = True
    organisation.save()


@pytest.fixture
def site(organisation):
    return SiteFactory(organisation=organisation, name="North Field", slug="north-field")


def test_houses_are_drawn_to_one_scale_and_the_longest_fills_the_width(signed_in, site):
    HouseFactory(site=site, name="Short", length=FOOT * 48)
    HouseFactory(site=SiteFactory(organisation=site.organisation), name="Long", length=FOOT * 96, post_span=FOOT * 20)
    found = yard(signed_in)
    short, long = found["Short"], found["Long"]
    assert long.length / short.length == pytest.approx(2, abs=0.001)
    assert long.span / short.span == pytest.approx(20 / 12, abs=0.001)
    assert long.length / long.span == pytest.approx(96 / 20, abs=0.001)
    # Same width of sheet: whatever the page makes of it, both stay to one scale.
    assert short.view[2] == long.view[2] == pytest.approx(long.length + 2, abs=0.01)


def test_a_page_of_short_houses_keeps_the_scale_of_the_whole_yard(signed_in, site):
    HouseFactory.create_batch(25, site=site, recipe__organisation=site.organisation, length=FOOT * 24)
    HouseFactory(site=SiteFactory(organisation=site.organisation, name="Z"), name="Long", length=FOOT * 96)
    first = yard(signed_in)
    assert len(first) == 25 and "Long" not in first
    assert yard(signed_in, page=2)["Long"].length / next(iter(first.values())).length == pytest.approx(4, abs=0.001)


def test_bays_are_filled_as_hoops_are_set_and_emptied_when_that_is_taken_back(signed_in, organisation, user):
    person, task = a_day(organisation)
    Task.objects.filter(pk=task.pk).update(kind=Kind.SET, count=13)
    task.refresh_from_db()
    name = task.house.name
    assert (yard(signed_in)[name].edge, yard(signed_in)[name].count("bay")) == ("coming", 0)
    seven = press(person, task, "stop", done=7)
    found = yard(signed_in)[name]
    assert (found.count("set"), found.count("bay"), found.count("coming"), found.edge) == (7, 6, 6, "edge")
    assert "7 of 13 hoops set" in found.desc and "7 of 13 hoops set" in text_of(signed_in.get("/houses/"))
    take_back(organisation=organisation, user=user, actual=seven, reason="Wrong house")
    found = yard(signed_in)[name]
    assert (found.count("set"), found.count("bay"), found.edge) == (0, 0, "coming")
    press(person, task, "stop", done=1)
    assert (yard(signed_in)[name].count("set"), yard(signed_in)[name].count("bay")) == (1, 0)
    press(person, task, "done", done=12)
    found = yard(signed_in)[name]
    assert (found.count("set"), found.count("bay"), found.count("coming")) == (13, 12, 0)


def test_posts_are_ticked_and_film_is_hatched_by_what_is_recorded_alone(signed_in, site):
    house = HouseFactory(site=site, name="North 1")
    task_at(house, Kind.POSTS, 26, done=9, state="started", starts_at=timezone.now(), ends_at=timezone.now())
    film = task_at(house, Kind.FILM, 220)
    found = yard(signed_in)["North 1"]
    assert (found.count("post"), found.count("film")) == (9, 0)
    assert "9 of 26 posts in" in found.desc and "0 of 220 feet of film and channel on" in found.desc
    Task.objects.filter(pk=film.pk).update(done=110, state="started")
    half = yard(signed_in)["North 1"].count("film")
    Task.objects.filter(pk=film.pk).update(state="done")
    whole = yard(signed_in)["North 1"]
    assert 0 < half < whole.count("film")
    assert "all 220 feet of film and channel on" in whole.desc and "covered" in text_of(signed_in.get("/houses/"))


def test_hatching_stays_inside_the_house(signed_in, site):
    task_at(HouseFactory(site=site, name="North 1"), Kind.FILM, 220, done=220, state="done")
    found = yard(signed_in)["North 1"]
    (path,) = re.findall(r'<path class="film" d="(.*?)"', found.body)
    numbers = [float(n) for n in re.findall(r"-?[\d.]+", path)]
    assert min(numbers[::2]) >= 0 and max(numbers[::2]) <= found.length + 0.1
    assert -found.span - 0.1 <= min(numbers[1::2]) and max(numbers[1::2]) <= 0.1


def test_each_plan_is_a_link_with_a_name_that_says_what_is_seen(signed_in, site):
    house = HouseFactory(site=site, name="North 1")
    task_at(house, Kind.SET, 13, done=4, state="started")
    for address in ("/houses/", site.get_absolute_url()):
        page = text_of(signed_in.get(address))
        label = "North 1, 12&#x27; × 48&#x27;, 4 of 13 hoops set, materials needed by 12 May 2027"
        assert f'<a class="yard-name" href="/houses/{house.slug}/" aria-label="{label}">North 1</a>' in page
        # What the drawing says by lines and shades stands beside it in words.
        assert 'role="img"><title>North 1 in plan</title><desc>' in page and "4 of 13 hoops set" in page
        assert "Heavy line: hoop set." in page


def test_the_scale_bar_is_as_long_as_it_says(signed_in, site):
    HouseFactory(site=site, name="Long", length=FOOT * 96)
    page = text_of(signed_in.get("/houses/"))
    percent, words = re.search(r'<svg width="([\d.]+)%".*?</svg> (.*?)</span>', page).groups()
    long = yard(signed_in)["Long"]
    assert words == "20&#x27;"
    assert float(percent) / 100 * long.view[2] == pytest.approx(long.length * 20 / 96, abs=0.05)


def test_archived_houses_and_those_of_others_are_not_in_the_yard(signed_in, organisation, user, site):
    gone, _ = HouseFactory(site=site, name="Gone"), HouseFactory(site=site, name="Kept")
    HouseFactory(name="Foreign", length=FOOT * 500)
    archive_house(organisation=organisation, user=user, house=gone)
    assert set(yard(signed_in)) == set(drawn_on(signed_in.get(site.get_absolute_url()))) == {"Kept"}
    assert set(yard(signed_in, archived="1")) == {"Gone"}
    # Nor does the longest of another organisation set the scale.
    assert yard(signed_in)["Kept"].view[2] == pytest.approx(yard(signed_in)["Kept"].length + 2, abs=0.01)


@pytest.mark.parametrize("more", [more_houses, more_tasks, more_orders, more_wind])
def test_a_large_yard_costs_as_many_queries_as_a_small_one(signed_in, organisation, more):
    def queries(address: str) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert signed_in.get(address).status_code == 200
        return len(asked)

    HouseFactory(site__organisation=organisation)
    more(organisation, 0, 5)
    site = House.objects.of(organisation).order_by("pk").first().site
    few = [queries(address) for address in ("/houses/", site.get_absolute_url())]
    more(organisation, 5, 60)
    assert [queries(address) for address in ("/houses/", site.get_absolute_url())] == few


# What keeps a house waiting


def block_of(client, house: House) -> tuple[str, str] | None:
    """Words, and where they lead."""
    row = text_of(client.get("/houses/")).split(f'href="/houses/{house.slug}/"')[1].split("</li>")[0]
    found = re.search(r'<p class="yard-state">.*?<a href="(.*?)">(.*?)</a>', row)
    return (found[2], found[1]) if found else None


def test_a_house_without_a_plan_says_so_until_one_is_accepted(signed_in, organisation, user):
    season = small_season(organisation)
    house = season.houses[0]
    assert block_of(signed_in, house) == ("not planned yet", f"/plans/new/?house={house.slug}")
    # A house that is worked at without a plan needs none.
    task = task_at(house, Kind.SURVEY, 26, done=3, state="started")
    assert block_of(signed_in, house) is None
    task.delete()
    plan = create_plan(**season.ask(user)).plan
    work_out_plan(plan.pk)
    assert block_of(signed_in, house) == ("plan not accepted", "/plans/1/")
    plan.refresh_from_db()
    accept_plan(organisation=organisation, user=user, plan=plan)
    assert block_of(signed_in, house) == ("no steps yet", reverse("crew:house-work", args=[house.slug]))


def test_the_trial_hoop_keeps_its_house_waiting_until_it_is_accepted(signed_in, organisation, user, site):
    house = HouseFactory(site=site, name="North 1")
    task_at(house, Kind.SURVEY, 26, done=26, state="done")
    task_at(house, Kind.BEND, 91, position=2)
    assert block_of(signed_in, house) == ("no batch yet", f"{reverse('hoops:batch-new')}?house={house.slug}")
    shop = batch_for(house, user)
    assert block_of(signed_in, house) == ("trial not accepted", shop.batch.get_absolute_url())
    shop.prove()
    assert block_of(signed_in, house) is None


@pytest.fixture
def order(organisation, site):
    return an_order(organisation, site, "7-1")


def an_order(organisation, site, number: str, *, sent: bool = False, **more) -> PurchaseOrder:
    today = today_of(organisation=organisation)
    given = {"order_by": today + timedelta(days=5), "need_by": today + timedelta(days=9)} | more
    money = dict.fromkeys(("goods", "total"), Decimal(10)) | dict.fromkeys(("delivery", "tax"), 0)
    supplier = SupplierFactory(organisation=organisation, name="Cloudberry (invented)")
    order = PurchaseOrder.objects.create(
        organisation=organisation,
        number=number,
        supplier=supplier,
        delivery_site=site,
        currency="USD",
        **money,
        **given,
    )
    PurchaseOrderLine.objects.create(
        order=order, position=1, material=MaterialFactory(organisation=organisation), description="Rail", needed=1,
        pack=1, quantity=20, unit_price=1, line_total=10, tax=0, need_by=given["need_by"],
    )  # fmt: skip
    if sent:
        send(order)
    return order


def send(order: PurchaseOrder) -> None:
    SentWorkbook.objects.create(order=order, name="order.xlsx", data=b"", sha256=sha256(b"").hexdigest())
    PurchaseOrder.objects.filter(pk=order.pk).update(state="sent", sent_on=order.order_by)


def test_what_is_on_order_keeps_the_step_that_uses_it_waiting(signed_in, organisation, user):
    season = small_season(organisation)
    house = season.houses[0]
    task_at(house, Kind.SURVEY, 26)
    posts = task_at(house, Kind.POSTS, 26, position=2)
    plan = create_plan(**season.ask(user)).plan
    work_out_plan(plan.pk)
    plan.refresh_from_db()
    accept_plan(organisation=organisation, user=user, plan=plan)
    held = Reservation.objects.filter(purpose="ground posts", order_line__isnull=False)
    order = held.first().order_line.order
    page = order.get_absolute_url()
    assert block_of(signed_in, house) == (f"order {order} not sent", page)
    send(order)
    due = today_of(organisation=organisation) + timedelta(days=3)
    order.lines.update(promised_on=due)
    assert block_of(signed_in, house) == (f"order {order} due {due.day} {due:%B}", page)
    order.lines.update(promised_on=today_of(organisation=organisation) - timedelta(days=1))
    assert block_of(signed_in, house) == (f"order {order} overdue", page)
    # The posts are in: what they waited for is no matter any more.
    Task.objects.filter(pk=posts.pk).update(state="done", done=26)
    assert block_of(signed_in, house) is None


# The next step


def first_of(client) -> tuple[str, str, str]:
    """The answer, the label of the button and where it leads."""
    page = text_of(client.get("/houses/"))
    answer = re.search(r'<p class="answer">\s*(.*?)\s*</p>', page)[1]
    button = re.search(r'<a class="action" href="(.*?)">(.*?)</a>', page)
    return answer, button[2], button[1]


def test_the_earliest_of_all_kinds_is_the_next_step(signed_in, organisation, user, site, order):
    today = today_of(organisation=organisation)
    house = HouseFactory(site=site, name="North 1")
    assert first_of(signed_in)[1:] == ("Send order 7-1", reverse("buying:send", args=["7-1"]))
    assert f"by {format_day(order.order_by)}." in first_of(signed_in)[0]
    sent = an_order(organisation, site, "8-1", sent=True, need_by=today + timedelta(days=4))
    assert first_of(signed_in)[1] == "Receive order 8-1"
    # A promise counts before the day that was asked for.
    sent.lines.update(promised_on=today + timedelta(days=6))
    assert first_of(signed_in)[1] == "Send order 7-1"
    shop = batch_for(house, user)
    answer, label, url = first_of(signed_in)
    assert answer == "The trial hoop for North 1 is not accepted; 13 hoops wait for it."
    assert (label, url.startswith(shop.batch.get_absolute_url())) == ("Issue 2 sticks for the trial hoop", True)
    shop.issue(2)
    shop.measure(TARGET)
    assert first_of(signed_in)[1] == "Look at trial hoop 1 and accept it"
    late = timezone.now() - timedelta(days=3)
    task = task_at(house, Kind.POSTS, 26, starts_at=late - timedelta(hours=2), ends_at=late)
    assert first_of(signed_in)[1:] == ("See the late task", reverse("crew:task", args=[task.pk]))
    Task.objects.update(state="done", done=26)
    assert first_of(signed_in)[1] == "Look at trial hoop 1 and accept it"


def test_the_page_of_a_site_names_the_next_step_of_the_season_and_an_archived_one_does_not(
    signed_in, organisation, user, site, order
):
    here = f'<a class="line-link" href="{reverse("buying:send", args=["7-1"])}">send order 7-1 by'
    assert here in text_of(signed_in.get(site.get_absolute_url()))
    other = SiteFactory(organisation=organisation)
    assert here in text_of(signed_in.get(other.get_absolute_url()))
    archive_site(organisation=organisation, user=user, site=other)
    assert here not in text_of(signed_in.get(other.get_absolute_url()))


def test_wind_over_the_limit_is_a_next_step(signed_in, organisation, site):
    today = today_of(organisation=organisation)
    now = timezone.now()
    house = HouseFactory(site=site, name="North 1")
    # The whole of today, so that it is neither late nor tomorrow's at any hour of the run.
    dawn = datetime.combine(today, time(), zone_of(organisation=organisation))
    task_at(house, Kind.FILM, 220, starts_at=dawn, ends_at=dawn + timedelta(hours=23, minutes=59, seconds=59))
    limit = {"speed": 8, "unit": "mph", "measure": "mean", "source": "Invented maker"}
    WindLimit.objects.create(organisation=organisation, work="film", **limit)
    WindForecast.objects.create(
        organisation=organisation, site=site, day=today, wind=19, unit="mph", source="Invented radio", entered_at=now
    )
    steps = next_steps_of(organisation=organisation)
    assert [step.label for step in steps if step.day == today] == ["See the wind"]
    assert first_of(signed_in)[2] == reverse("crew:wind")
    assert "too much wind for film work at North Field" in first_of(signed_in)[0].replace("Too", "too")


def test_another_organisation_is_told_nothing(client, organisation, user, site, order):
    batch_for(HouseFactory(site=site, name="North 1"), user)
    assert len(next_steps_of(organisation=organisation)) == 2
    stranger = MembershipFactory()
    assert next_steps_of(organisation=stranger.organisation) == []
    client.force_login(stranger.user)
    assert "North 1" not in text_of(client.get("/houses/"))


def test_no_sentence_of_a_next_step_is_longer_than_eighteen_words(organisation, user, site, order):
    house = HouseFactory(site=site, name="North Field Beside the Creek 1")
    batch_for(house, user)
    late = timezone.now() - timedelta(days=3)
    task_at(house, Kind.SIGHT, 13, starts_at=late - timedelta(hours=2), ends_at=late)
    today = today_of(organisation=organisation)
    an_order(organisation, site, "8-1", sent=True, need_by=today - timedelta(days=4))
    steps = next_steps_of(organisation=organisation)
    assert [step.day for step in steps] == sorted(step.day for step in steps) and len(steps) == 4
    assert all(len(step.says.split()) <= 18 for step in steps), [step.says for step in steps]


def test_an_empty_yard_says_what_belongs_there_and_has_one_button_with_words(signed_in, organisation, site):
    page = text_of(signed_in.get("/houses/"))
    assert "Each house that you will put up belongs here" in page
    assert re.findall(r'<a class="action" href="(.*?)">(.*?)</a>', page) == [("/houses/new/", "Add a house")]
