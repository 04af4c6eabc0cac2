"""Every page of a plan, as its own people and as others see it."""

from __future__ import annotations

import io
import zipfile
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from openpyxl import load_workbook

from farmbuild.catalogue.models import Material, Offer, Supplier
from farmbuild.common.long_work import SILENCE, Claim
from farmbuild.common.templatetags.farm import money
from farmbuild.plans import bridge, services
from farmbuild.plans.models import Plan
from farmbuild.sites.models import House
from tests.factories import FOOT, HouseFactory, MaterialFactory, MembershipFactory, OrganisationFactory
from tests.plans.small_season import AS_OF, small_season
from tests.reading import text_of
from tests.size import sized

pytestmark = pytest.mark.django_db

PARTS = ["plan", "needs", "cutting", "shortfall", "leftovers", "orders"]
FILES = ["orders-zip", "cut-list", "take-off", "leftovers-file"]
ACTIONS = ["run", "retry", "again"]


def stop(plan: Plan, problem: str = "North 1: no room.") -> None:
    Plan.objects.filter(pk=plan.pk).update(state=Plan.State.FAILED, problem=problem)


@pytest.fixture
def waiting(season, user) -> Plan:
    return services.create_plan(**season.ask(user)).plan


class TestParts:
    @pytest.mark.parametrize("part", PARTS)
    def test_opens(self, signed_in, ready, part):
        page = signed_in.get(reverse(f"plans:{part}", args=[1]))
        assert page.status_code == 200
        assert 'class="answer"' in text_of(page)

    def test_the_plan_starts_with_the_answer(self, signed_in, ready):
        page = text_of(signed_in.get("/plans/1/"))
        total = sum(order.total for order in bridge.season_plan_of(ready).orders)
        assert "Short " in page
        assert "; order by 3 May 2027." in page and "The first is needed on 12 May 2027." in page
        assert f"2 orders, {money(total, ready.organisation)}." in page

    def test_nothing_short_says_so(self, signed_in, season, user):
        House.objects.update(
            post_material=None, base_board_material=None, base_board_rows=0, screw_material=None, screws_per_joint=0
        )
        House.objects.update(length=FOOT * 12)
        plan = services.create_plan(**season.ask(user, houses=season.houses[:1])).plan
        services.work_out_plan(plan.pk)
        assert "Nothing to order: the yard has all of it." in text_of(signed_in.get("/plans/1/"))
        assert "Nothing to order" in text_of(signed_in.get("/plans/1/orders/"))
        assert "Nothing has to be cut." in text_of(signed_in.get("/plans/1/cutting/"))

    def test_what_cannot_be_had_is_said_first(self, signed_in, season, user):
        Offer.objects.filter(material__code="screw").delete()
        plan = services.create_plan(**season.ask(user)).plan
        services.work_out_plan(plan.pk)
        page = text_of(signed_in.get("/plans/1/"))
        assert "pieces cannot be bought: Joint screw." in page
        assert "See what cannot be bought" in page
        assert "and nobody offers it." in text_of(signed_in.get("/plans/1/shortfall/"))
        assert "cannot be bought" in text_of(signed_in.get("/plans/1/needs/north-1/"))

    def test_what_cannot_be_had_leads_to_where_an_offer_of_it_is_added(self, signed_in, season, user):
        Offer.objects.filter(material__code="screw").delete()
        plan = services.create_plan(**season.ask(user)).plan
        services.work_out_plan(plan.pk)
        sellers = reverse("catalogue:suppliers") + "?material=screw"
        wanted = reverse("catalogue:offer-wanted", args=["screw"])
        assert f'href="{wanted}?' in signed_in.get("/plans/1/shortfall/").content.decode()
        assert signed_in.get(wanted).url == sellers
        page = signed_in.get(sellers)
        assert "Choose who sells Joint screw, or add a supplier." in text_of(page)
        supplier = Supplier.objects.of(season.organisation).first()
        new = reverse("catalogue:offer-new", args=[supplier.code]) + "?material=screw"
        assert f'href="{new}"' in page.content.decode()
        material = Material.objects.of(season.organisation).get(code="screw")
        assert signed_in.get(new).context["form"].initial["material"] == material.pk
        # Nobody sells it yet: a supplier that is added leads there too.
        added = signed_in.post(
            reverse("catalogue:supplier-new") + "?material=screw",
            {"code": "bolts", "name": "Invented Bolts", "delivery_charge": "0", "minimum_order": "0"},
        )
        assert added.url == reverse("catalogue:offer-new", args=["bolts"]) + "?material=screw"
        MaterialFactory(organisation=OrganisationFactory(), code="theirs")
        for page in (reverse("catalogue:suppliers"), reverse("catalogue:offer-new", args=[supplier.code])):
            assert signed_in.get(f"{page}?material=theirs").status_code == 404

    def test_late_lines_are_amber_and_in_words(self, signed_in, season, user):
        House.objects.update(need_date=AS_OF)
        plan = services.create_plan(**season.ask(user)).plan
        services.work_out_plan(plan.pk)
        page = text_of(signed_in.get("/plans/1/"))
        assert "order at once" in page
        assert "come late, by up to 9 days." in page
        signed_in.post("/plans/1/accept/")
        page = text_of(signed_in.get("/orders/1-1/"))
        assert "come late, by up to 9 days." in page
        assert "9 days late" in page

    def test_a_house_shows_what_covers_each_row(self, signed_in, ready):
        page = text_of(signed_in.get("/plans/1/needs/north-1/"))
        assert "20 from lot L-1, Rack 1" in page
        assert "6 to buy" in page
        assert "How worked out" in page
        assert signed_in.get("/plans/1/needs/nowhere/").status_code == 404

    def test_the_cut_page_draws_every_sawn_stick_with_its_numbers(self, signed_in, ready):
        page = text_of(signed_in.get("/plans/1/cutting/"))
        assert page.count(' role="img"') >= 2
        assert "proven best" in page
        assert "Caution: Cutting and drilling." in page
        assert 'data-tick="plan ' in page
        only = text_of(signed_in.get("/plans/1/cutting/?material=post"))
        assert "<h2>1-5/8 post</h2>" in only
        assert "<h2>2x6 board</h2>" not in only

    def test_a_page_number_or_material_that_is_not_there_shows_something(self, signed_in, ready):
        for query in ("page=99", "page=x", "material=nothing"):
            assert signed_in.get(f"/plans/1/cutting/?{query}").status_code == 200

    def test_many_sticks_are_spread_over_pages(self, signed_in, season, user):
        houses = [
            HouseFactory(
                site=season.north,
                slug=f"wide-{n}",
                length=FOOT * 48,
                recipe=season.houses[0].recipe,
                post_material=season.houses[0].post_material,
                post_length=FOOT * 4 + n,
            )
            for n in range(30)
        ]
        plan = services.create_plan(**season.ask(user, houses=houses)).plan
        services.work_out_plan(plan.pk)
        page = text_of(signed_in.get("/plans/1/cutting/"))
        assert page.count('<section class="cut-strip">') == 12
        assert page.count('<section class="cut-strip print-only">') > 12
        assert "Strips 1 to 12 of" in page
        assert text_of(signed_in.get("/plans/1/cutting/?page=2")) != page

    @pytest.mark.parametrize("part", [*PARTS[1:], *FILES])
    def test_a_plan_that_is_not_ready_shows_its_first_page(self, signed_in, waiting, part):
        assert signed_in.get(reverse(f"plans:{part}", args=[1])).url == "/plans/1/"


class TestFiles:
    @pytest.mark.parametrize("name", FILES[1:])
    def test_a_workbook_opens(self, signed_in, ready, name):
        answer = signed_in.get(reverse(f"plans:{name}", args=[1]))
        assert answer.status_code == 200
        assert ".xlsx" in answer["Content-Disposition"]
        assert load_workbook(io.BytesIO(answer.content)).sheetnames

    def test_the_archive_holds_each_order_as_its_own_page_gives_it(self, signed_in, ready):
        answer = signed_in.get("/plans/1/orders.zip")
        with zipfile.ZipFile(io.BytesIO(answer.content)) as archive:
            files = {name: archive.read(name) for name in archive.namelist()}
        assert len(files) == 2
        for order in ready.orders.all():
            (data,) = (data for name, data in files.items() if name.startswith(f"order-{order.number}-"))
            assert signed_in.get(f"/orders/{order.number}/order.xlsx").content == data

    def test_the_files_are_the_same_each_time(self, signed_in, ready):
        for name in FILES:
            url = reverse(f"plans:{name}", args=[1])
            assert signed_in.get(url).content == signed_in.get(url).content


class TestAsking:
    def test_every_house_is_ticked_at_first(self, signed_in, season):
        page = text_of(signed_in.get("/plans/new/"))
        assert page.count("checked") == 2
        assert "<legend>North Field</legend>" in page and "<legend>Creek Bottom</legend>" in page
        assert "North 1, needed by 12 May 2027" in page

    @pytest.mark.parametrize(("query", "ticks"), [("tick=none", 0), ("site=north-field", 1), ("house=creek-1", 1)])
    def test_fewer_are_ticked_when_asked(self, signed_in, season, query, ticks):
        assert text_of(signed_in.get(f"/plans/new/?{query}")).count("checked") == ticks

    def test_no_house_yet(self, signed_in, organisation):
        page = text_of(signed_in.get("/plans/new/"))
        assert "There is no house to plan yet." in page
        assert "Add a house first" in page

    def form(self, season, **changed):
        return {
            "name": "Spring",
            "houses": [house.pk for house in season.houses],
            "delivery_site": season.north.pk,
            "as_of": "2027-03-01",
        } | changed

    def test_a_new_plan_waits_to_be_worked_out(self, signed_in, season, user):
        answer = signed_in.post("/plans/new/", self.form(season))
        assert answer.url == "/plans/1/"
        plan = Plan.objects.get()
        assert (plan.state, plan.created_by) == (Plan.State.WAITING, user)

    def test_the_same_again_says_so(self, signed_in, season, ready):
        answer = signed_in.post("/plans/new/", self.form(season, name="Again"), follow=True)
        assert "Nothing has changed since plan 1, “Spring”, so this is the answer." in text_of(answer)
        assert Plan.objects.count() == 1

    @pytest.mark.parametrize(
        ("field", "value", "words"),
        [
            ("houses", [], "Tick at least one house."),
            ("delivery_site", "", "Choose the site that the suppliers deliver to."),
            ("as_of", "soon", "Type a date, for example 2027-05-12."),
            ("as_of", "0001-01-01", "Type a date from 2000 to 2100"),
            ("name", "x" * 121, "at most 120 characters"),
        ],
    )
    def test_a_wrong_field_says_what_to_do_and_keeps_the_rest(self, signed_in, season, field, value, words):
        page = signed_in.post("/plans/new/", self.form(season, **{"name": "Kept name", field: value}))
        assert words in text_of(page)
        assert "Kept name" in text_of(page) or field == "name"
        assert not Plan.objects.exists()

    def test_another_organisations_house_or_site_is_no_choice(self, signed_in, season):
        other = small_season(MembershipFactory().organisation)
        page = signed_in.post("/plans/new/", self.form(season, houses=[other.houses[0].pk]))
        assert "A ticked house has been archived or is not yours." in text_of(page)
        page = signed_in.post("/plans/new/", self.form(season, delivery_site=other.north.pk))
        assert "That site has been archived or is not yours." in text_of(page)
        assert not Plan.objects.exists()
        assert other.houses[0].name not in text_of(signed_in.get("/plans/new/")).replace("North 1", "", 2)


class TestWorking:
    def test_a_waiting_plan_starts_itself_and_can_be_followed(self, signed_in, waiting):
        page = text_of(signed_in.get("/plans/1/"))
        assert 'data-run-url="/plans/1/run/"' in page
        assert 'data-progress-url="/plans/1/progress/"' in page
        assert "<noscript><form" in page
        assert signed_in.get("/plans/1/progress/").json() == {
            "state": "waiting",
            "done": 0,
            "total": 0,
            "note": "Waiting for a worker",
        }

    def test_starting_it_works_it_out(self, signed_in, waiting):
        assert signed_in.post("/plans/1/run/").url == "/plans/1/"
        waiting.refresh_from_db()
        assert waiting.state == Plan.State.READY

    def test_the_script_is_answered_in_json(self, signed_in, waiting):
        answer = signed_in.post("/plans/1/run/", headers={"accept": "application/json"})
        assert answer.json()["state"] == "ready"

    def test_a_plan_in_work_is_not_started_twice(self, signed_in, waiting):
        assert Claim.of(Plan, waiting.pk)
        assert "data-run-url" not in text_of(signed_in.get("/plans/1/"))

    def test_what_a_silent_worker_left_is_started_again(self, signed_in, waiting):
        assert Claim.of(Plan, waiting.pk)
        Plan.objects.update(heard_from_at=waiting.created_at - 2 * SILENCE)
        assert 'data-run-url="/plans/1/run/"' in text_of(signed_in.get("/plans/1/"))
        signed_in.post("/plans/1/run/")
        waiting.refresh_from_db()
        assert waiting.state == Plan.State.READY

    def test_a_stopped_plan_says_why_and_can_be_tried_again(self, signed_in, waiting):
        stop(waiting)
        page = text_of(signed_in.get("/plans/1/"))
        assert "North 1: no room." in page
        assert "Plan again" in page
        assert signed_in.post("/plans/1/retry/").url == "/plans/1/"
        waiting.refresh_from_db()
        assert waiting.state == Plan.State.WAITING


class TestOutOfDate:
    @pytest.mark.parametrize("part", PARTS[1:])
    def test_every_part_says_it_at_its_top(self, signed_in, ready, part):
        address = reverse(f"plans:{part}", args=[1])
        assert "Out of date." not in text_of(signed_in.get(address))
        House.objects.filter(slug="north-1").update(length=FOOT * 52)
        page = text_of(signed_in.get(address))
        assert page.count("Out of date.") == 1
        assert 'href="/plans/1/">See what changed since plan 1' in page

    def test_it_says_what_changed_and_offers_a_new_plan(self, signed_in, ready):
        assert "Out of date." not in text_of(signed_in.get("/plans/1/"))
        House.objects.filter(slug="north-1").update(length=FOOT * 52)
        page = text_of(signed_in.get("/plans/1/"))
        assert "Out of date." in page
        assert "North 1" in page
        assert signed_in.post("/plans/1/again/").url == "/plans/2/"
        assert [plan.number for plan in Plan.objects.order_by("number")] == [1, 2]

    def test_the_older_plan_and_its_orders_say_so(self, signed_in, season, user, ready):
        signed_in.post("/plans/1/accept/")
        House.objects.filter(slug="north-1").update(length=FOOT * 52)
        newer = services.plan_again(plan=ready, user=user, as_of=AS_OF).plan
        services.work_out_plan(newer.pk)
        assert "A plan accepted later<" not in text_of(signed_in.get("/plans/1/"))
        signed_in.post("/plans/2/accept/")
        assert "<strong>A plan accepted later</strong> has houses" in text_of(signed_in.get("/plans/1/"))
        assert "cancelled: plan 2 was accepted instead" in text_of(signed_in.get("/orders/1-1/"))
        assert "Look before sending." not in text_of(signed_in.get("/orders/2-1/"))
        assert "Released; a plan accepted later has its houses" in text_of(signed_in.get("/plans/"))

    def test_all_houses_archived(self, signed_in, ready):
        House.objects.update(archived_at=ready.created_at)
        answer = signed_in.post("/plans/1/again/", follow=True)
        assert "all are archived" in text_of(answer)


class TestOthers:
    @pytest.fixture
    def stranger(self, client):
        client.force_login(MembershipFactory().user)
        return client

    @pytest.mark.parametrize("name", [*PARTS, *FILES, "progress"])
    def test_no_page_of_another_organisation(self, stranger, ready, name):
        assert stranger.get(reverse(f"plans:{name}", args=[1])).status_code == 404

    @pytest.mark.parametrize("name", ACTIONS)
    def test_no_action_on_another_organisations_plan(self, stranger, ready, name):
        stop(ready)
        before = Plan.objects.values().get()
        assert stranger.post(reverse(f"plans:{name}", args=[1])).status_code == 404
        assert Plan.objects.values().get() == before

    def test_the_list_shows_only_ones_own(self, stranger, ready):
        assert "Spring" not in text_of(stranger.get("/plans/"))

    def test_nobody_signed_out(self, client, ready):
        for name in [*PARTS, *FILES]:
            assert client.get(reverse(f"plans:{name}", args=[1])).url.startswith("/sign-in/")

    @pytest.mark.parametrize("name", ACTIONS)
    def test_actions_are_posted_with_a_token(self, ready, user, name):
        from django.test import Client

        strict = Client(enforce_csrf_checks=True)
        strict.force_login(user)
        url = reverse(f"plans:{name}", args=[1])
        assert strict.get(url).status_code == 405
        assert strict.post(url).status_code == 403


def test_what_must_be_known_of_houses_stands_on_their_plan_without_a_query_more(signed_in, organisation, season, user):
    """A post of 2.375 in with a wall of 0.065 in is 2 1/4 in wide inside, and the hoop 1 3/8 in outside."""
    fitting = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(fitting.pk)
    Material.objects.filter(organisation=organisation, code="post").update(width=Decimal("60.325"))
    loose = services.create_plan(**season.ask(user)).plan
    services.work_out_plan(loose.pk)
    for plan in (fitting, loose):
        signed_in.get(plan.get_absolute_url())
    with CaptureQueriesContext(connection) as few:
        assert "loose" not in text_of(signed_in.get(fitting.get_absolute_url()))
    shown = text_of(signed_in.get(loose.get_absolute_url()))
    assert "North 1 and Creek 1: The hoop stands loose" in shown or "Creek 1 and North 1: The hoop" in shown
    assert shown.count("stands loose") == 1
    with CaptureQueriesContext(connection) as many:
        signed_in.get(loose.get_absolute_url())
    assert len(many) <= len(few)


def test_the_list_takes_as_many_queries_for_many_plans(signed_in, season, user, ready, django_assert_max_num_queries):
    for n in range(sized(18, 30)):
        plan = services.create_plan(**season.ask(user, as_of=AS_OF.replace(day=2 + n % 28, month=4 + n // 28))).plan
        services.work_out_plan(plan.pk)
    with django_assert_max_num_queries(15) as counted:
        signed_in.get("/plans/")
    assert len(counted) >= 3
    with django_assert_max_num_queries(6):
        signed_in.get("/plans/")
