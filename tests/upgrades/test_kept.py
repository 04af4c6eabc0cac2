"""A database of an earlier version, with the demo in it, migrated to today: nothing is lost, and every page answers."""

from __future__ import annotations

import hashlib
import json
from urllib.parse import urlsplit

from django.core.management import call_command
from django.db.models import Sum
from django.test import Client
from django.urls import resolve

from farmbuild.common.doctor.schema import definitions
from farmbuild.crew.bridge import Wait
from farmbuild.crew.models import CalendarFeed, WorkTemplate
from farmbuild.crew.steps.selectors import waits_of
from farmbuild.hoops.batches.bridge import bend_of, judge_trial
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import round_money
from farmbuild.orgs.models import Organisation, User
from farmbuild.orgs.visitors import PAGES
from farmbuild.plans.bridge import digest_of
from farmbuild.plans.models import Plan
from farmbuild.plans.outdated import changed_houses
from farmbuild.plans.selectors import changes_since
from farmbuild.quotes.against.selectors import accepted_jobs, costs_of
from farmbuild.quotes.changes.presenters import changed_houses as changed_houses_of
from farmbuild.quotes.models import Bill, ChangeOrder, QuoteVersion
from farmbuild.sites.models import House
from farmbuild.sites.services import prepare_starter
from farmbuild.sites.starters import starters
from farmbuild.stock.cost_selectors import material_cost_of, stock_books
from farmbuild.stock.models import Lot, Movement
from tests.size import LONG
from tests.upgrades.addresses import GIVEN, PIPE_PARTS, addresses
from tests.upgrades.keep import COMMITS, KEPT
from tests.upgrades.rows import rows

#: Kept before anything was quoted and before movements had costs.
BEFORE_COSTS = COMMITS[:2]
#: What a page needs to be told.
ASKED = dict.fromkeys(("common:understood", "crew:own-understood"), "?text=12&unit=ft")
#: Where those lead that are no page, or none for some rows.
LEADS_TO = {
    "home": "sites:houses",
    # Starters name materials that this list lacks; one press there adds them.
    "sites:house-create": "sites:house-new",
    "plans:change": "plans:plan",
    "plans:change-file": "plans:plan",
    "set-password": "set-password",
    # Of whoever gave a name and a password first, or has a second step.
    **dict.fromkeys(("admin-sign-in", "sign-in-code"), "sign-in"),
    **dict.fromkeys(("access:step-off", "access:step-papers"), "access:account"),
    "access:join": "access:join-code",
    # The farm of a kept database counts as real.
    "orgs:throw-away": "orgs:organisation",
    # Nobody asked for an export.
    "moving:export-download": "moving:export",
    "catalogue:offer-wanted": "catalogue:suppliers",
    # A job is of a customer, and a kept database has none.
    "quotes:job-new": "quotes:customer-new",
    "stock:held-cut": "stock:held-one",
    "stock:season-end-scrap": "stock:season-end",
    "crew:day-tick": "crew:day",
    # As they were called before a member could be a farm.
    "crew:own-before": "coop:seen",
    "crew:own-page-before": "crew:own-days",
    # Nobody is asked about that pipe any more.
    "coop:pipe-agree": "coop:pipe",
    "coop:pipe-return-agree": "coop:pipe-return",
    # Of whoever holds a card.
    "coop:card-take": "coop:card-code",
    # Of members' accounts, where there is no entry yet.
    **dict.fromkeys(("coop:accounts-workbook", "coop:accounts-pdfs"), "coop:accounts"),
    # Of a joint order that is closed.
    **dict.fromkeys(("coop:seen-joint-need", "coop:seen-joint-plan"), "coop:seen-joint"),
    **dict.fromkeys(
        tuple(
            f"coop:joint-{name}"
            for name in (
                *("edit", "members", "call-off", "put-in", "need", "need-remove", "collect", "prices", "close"),
                *("reopen", "handout-back"),
            )
        ),
        "coop:joint",
    ),
    # Of what holds nothing any more, came back, or is accepted or billed already.
    "plans:house-release": "plans:house-held",
    "crew:booking-move": "crew:booking",
    "quotes:house-new": "quotes:house-choose",
    "quotes:bill-new": "quotes:job-bills",
    "quotes:to-come": "quotes:against",
    # Of an order that has gone out or is cancelled.
    **dict.fromkeys(("buying:order-change", "buying:order-join", "buying:line-add"), "buying:order"),
    **dict.fromkeys(("buying:line", "buying:line-split", "buying:line-remove"), "buying:order"),
}
#: Of a batch that is not finished, a change that was sent, a job that is accepted, hours that are not in money yet.
NOT_OF_EVERY_ROW = {
    "hoops:batch-finish",
    *(f"quotes:{name}" for name in ("change-pdf", "change-workbook", "bill-new", "against-workbook", "against-csv")),
    "costs:time-people",
    "plans:houses-as-tried",
    # Of a joint order that is closed.
    *(f"coop:joint-{name}" for name in ("split", "split-pdf", "split-workbook", "list-pdf", "list-workbook", "share")),
}
#: The demo has nothing that these show.
WITHOUT_ROWS = {
    # Nobody had looked for savings.
    *("plans:savings-progress", "plans:savings-run", "plans:savings-end", "plans:savings-try"),
    # Nobody had asked what the yard gives.
    *("plans:from-yard-progress", "plans:from-yard-run", "plans:from-yard-end", "plans:from-yard-try"),
    # No bender had come back from a member of a kept database.
    *("coop:booking", "coop:damage-new", "crew:own-hoop", "crew:own-hoop-back"),
    # Lots were nobody's but the organisation's own.
    *("stock:lot-leave", "stock:lot-leave-end"),
    # Services and hoops of members were not written down before.
    *("hoops:bender-service-back", "hoops:bender-hoop-back"),
    # Nothing was quoted before quotes were kept.
    *(f"quotes:{name}" for name in ("customer", "customer-archive", "job", "job-edit", "job-lost", "job-again")),
    *(f"quotes:{name}" for name in ("ground", "photos", "photo-whole", "photo-small", "photo-remove", "quote-new")),
    *(f"quotes:{name}" for name in ("quote", "quote-edit", "option-new", "option", "option-name", "option-remove")),
    *(f"quotes:{name}" for name in ("option-price", "house-choose", "house-new", "house-like", "house")),
    *(f"quotes:{name}" for name in ("house-remove", "line-new", "line", "line-worked-out", "line-remove")),
    *(f"quotes:{name}" for name in ("job-bills", "stages", "bill-new", "bill", "bill-pdf", "bill-workbook")),
    *(f"quotes:{name}" for name in ("send", "version", "version-pdf", "version-workbook", "link-new", "link-end")),
    *(f"quotes:{name}" for name in ("accept-behalf", "withdraw", "change-new", "change", "change-line-remove")),
    *(f"quotes:{name}" for name in ("change-drop", "change-send", "change-answer", "change-link", "change-pdf")),
    *("quotes:change-workbook", "quotes:offered", "quotes:offered-pdf"),
    # Nor was anything ordered together.
    *(f"coop:joint{name}" for name in ("", "-edit", "-members", "-call-off", "-put-in", "-need", "-need-remove")),
    *(f"coop:joint{name}" for name in ("-collect", "-prices", "-close", "-reopen", "-split", "-split-pdf")),
    *(f"coop:joint{name}" for name in ("-split-workbook", "-list-pdf", "-list-workbook", "-share", "-handout-back")),
    *(f"coop:seen-joint{name}" for name in ("", "-need", "-change", "-withdraw", "-plan", "-stock")),
    # Nor was a member a farm.
    "coop:seen-leave",
    # Nor did members lend each other pipe.
    *(f"coop:seen-pipe{part}" for part in PIPE_PARTS),
    *(f"coop:pipe{part}" for part in PIPE_PARTS if "refuse" not in part),
    *("coop:pipe-back", "coop:pipe-return-back"),
    *(f"coop:seen-lot{part}" for part in ("", "-leave", "-leave-end")),
    # Nor was any stock opened to members.
    *(f"coop:{name}" for name in ("common-offer", "common-end", "common-wish", "common-wish-give")),
    *("coop:seen-common-offer", "coop:seen-common-wish"),
    *(
        f"quotes:{name}"
        for name in ("bill-back", "against", "against-workbook", "against-csv", "to-come", "job-finish")
    ),
    *("projects:preview", "projects:store"),
    *("stock:import-progress", "stock:import-run", "stock:import-stop"),
    *("stock:import-preview", "stock:import-store", "stock:count-import-preview", "stock:count-import-store"),
    *("catalogue:list", "stock:give-back", "buying:reply", "buying:reply-take", "crew:calendar", "crew:schedule"),
    "crew:hours-other",
    *(f"buying:invoice{part}" for part in ("", "-check", "-credit", "-reverse")),
    # Hours approved before rates were kept wait for them; nothing was charged yet.
    *("costs:time-row", "costs:equipment-day", "costs:trip"),
    # Nothing was charged to members before their accounts were kept.
    *(f"coop:{name}" for name in ("damage", "damage-dispute", "entry", "statement", "statement-pdf")),
    *(f"coop:{name}" for name in ("statement-workbook", "seen-damage", "seen-photo", "seen-photo-small")),
    *(f"coop:{name}" for name in ("seen-statement-pdf", "seen-statement-workbook")),
    *(f"crew:booking-photo{part}" for part in ("", "-whole", "-small")),
    # What was changed before changes were kept is not told.
    "history:act",
    *("access:invitation", "access:invitation-renew", "access:invitation-withdraw", "access:join-link"),
    *("access:weekly-end", "coop:card-link"),
    # No program was let in before there were tokens.
    *("api:token", "api:token-end"),
    *(f"api:webhook{part}" for part in ("", "-trial", "-secret", "-token", "-stop", "-start", "-end")),
    *(
        "crew:schedule-progress",
        "crew:schedule-run",
        "crew:schedule-end",
        "crew:schedule-retry",
        "crew:schedule-publish",
    ),
}
#: Django adds rows of its own to these when it migrates, and steps as shipped get those that were added since.
GROWS = {"django_migrations", "django_content_type", "auth_permission", "crew_workstep", "crew_stepafter"}

#: Secrets of calendars are kept by their hash since; tests/crew/bookings/test_pages.py has that those go on.
HASHED = {"crew_calendarfeed"}


def test_each_kept_database_is_tried():
    assert sorted(path.stem for path in KEPT.glob("*.json")) == sorted(COMMITS)


def test_every_row_is_as_it_was(kept):
    assert len(kept.rows) > 70
    for table, before in kept.rows.items():
        if table in HASHED:
            assert CalendarFeed.objects.count() == sum(before.found.values())
            continue
        after = rows(table, before.columns)
        assert before.found - after.found == {}, table
        assert table in GROWS or after.found == before.found, table


def test_the_database_is_as_one_that_began_empty(kept, fresh_definitions):
    assert definitions() == fresh_definitions


def test_steps_as_shipped_saw_before_they_set_posts(kept):
    for template in WorkTemplate.objects.filter(slug="pipe-framed-house"):
        order = list(template.steps.order_by("position").values_list("kind", flat=True))
        assert order[:3] == ["survey", "saw", "posts"]
        assert Wait("posts", "saw") in waits_of(template=template)


def test_as_many_pieces_are_on_hand(kept, capsys):
    lots = Lot.objects.annotate(summed=Sum("movements__quantity")).order_by("organisation__slug", "reference")
    found = [[*row] for row in lots.values_list("organisation__slug", "reference", "on_hand", "summed")]
    assert found == [[slug, reference, pieces, pieces] for slug, reference, pieces in kept.facts["lots"]]
    call_command("recount")
    said = capsys.readouterr().out
    assert f"{len(found):,} lots agree" in said


def test_lots_are_worth_what_their_pages_said_and_it_adds_up(kept):
    for organisation in Organisation.objects.all():
        lots = Lot.objects.of(organisation)
        if kept.commit in BEFORE_COSTS:
            for lot in lots:
                assert lot.value == round_money(lot.unit_cost * lot.on_hand, organisation.currency), lot
        books = stock_books(organisation=organisation)
        assert books.off == 0 and books.on_hand == sum(lot.value for lot in lots)
        houses = set(House.objects.of(organisation).values_list("pk", flat=True))
        costs = material_cost_of(organisation=organisation, houses=houses)
        assert sum(row.amount for row in costs) == books.houses > 0
        assert {row.estimated for row in costs} == {kept.commit in BEFORE_COSTS}
    assert not Movement.objects.filter(estimated=kept.commit not in BEFORE_COSTS).exists()


def test_what_was_sent_and_billed_is_as_it_went_out_and_adds_up(kept, capsys):
    jobs = list(accepted_jobs(organisation=Organisation.objects.first()))
    assert bool(jobs) == (kept.commit not in BEFORE_COSTS)
    for sent in (QuoteVersion.objects, ChangeOrder.objects.exclude(state="draft"), Bill.objects):
        for row in sent.defer(None):
            assert hashlib.sha256(row.pdf).hexdigest() == row.sha256, row
    for job in jobs:
        costs = costs_of(job=job)
        assert costs.contract.option.before_tax == job.acceptance.before_tax
        assert sum(costs.comparison.differences.by_cause.values()) == costs.actual - costs.quoted
        assert 0 < costs.billed <= costs.contract.before_tax
        assert changed_houses_of(job=job) == []
    for command in ("recount_costs", "recount_members"):
        call_command(command)
    assert capsys.readouterr().out.count("add up") == 2


def test_the_time_zone_of_the_work_is_that_of_the_organisation(kept):
    """The demo has worked by the clocks of New York from its first version on."""
    assert set(Organisation.objects.values_list("time_zone", flat=True)) == {"America/New_York"}


def test_plans_are_the_same_to_the_letter(kept):
    plans = Plan.objects.order_by("organisation__slug", "number")
    found = [[*row] for row in plans.values_list("organisation__slug", "number", "inputs_digest", "result_digest")]
    assert found == kept.facts["plans"] != []
    for plan in plans:
        stored = (plan.inputs_digest, plan.result_digest)
        assert (digest(plan.inputs), digest(plan.result)) == stored
        assert (digest_of(plan.inputs), digest_of(plan.result)) == stored


def test_a_plan_is_not_out_of_date_for_being_old(kept):
    # Later seasons have plans that their own work overtook; the accepted one stands there too.
    plans = Plan.objects.filter(state=Plan.State.READY)
    for plan in plans if kept.commit in BEFORE_COSTS else ():
        assert changes_since(plan=plan) == []
    for plan in plans.exclude(accepted_at=None):
        assert changed_houses(organisation=plan.organisation, plans=[plan.pk]) == {}


def digest(stored) -> str:
    """SHA-256 of JSON with keys in order, no spaces, and text as it is."""
    written = json.dumps(stored, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(written.encode()).hexdigest()


def test_every_page_answers(one_kept):
    clients = {user.visitor: Client(raise_request_exception=False) for user in User.objects.all()}
    for user in User.objects.all():
        clients[user.visitor].force_login(user)
    wrong, pages, without = [], set(), set()
    for name, found in addresses():
        if not found:
            without.add(name)
        # One row of each kind; in the long run the first and the last.
        for address in found if LONG or name in GIVEN else found[:1]:
            answer = clients[name in PAGES and name.startswith(("crew:", "coop:"))].get(address + ASKED.get(name, ""))
            b"".join(answer)
            if answer.status_code == 200:
                pages.add(name)
            elif not meant(name, answer):
                wrong.append((name, address, answer.status_code, answer.headers.get("Location")))
    assert wrong == [], "\n".join(map(str, wrong))
    assert without <= WITHOUT_ROWS, "no row is kept for these"
    assert len(pages) > 180


def test_a_starter_gives_what_it_uses_now_to_whoever_has_had_it_before(kept):
    for organisation in Organisation.objects.filter(memberships__isnull=False).distinct():
        given = {"organisation": organisation, "user": organisation.memberships.first().user}
        had = dict(Recipe.objects.of(organisation).values_list("slug", "pk"))
        assert had
        for starter in starters():
            values = prepare_starter(**given, starter=starter)
            if not starter.recipe:
                assert not starter.uses
                continue
            assert values["recipe"].pk == had.get(starter.recipe["slug"], values["recipe"].pk)
            assert {values[name].code for name in starter.uses} == set(starter.uses.values())


def meant(name: str, answer) -> bool:
    """A redirect to where it has to lead, or a view that says of itself that it is only pressed."""
    if answer.status_code == 302:
        return resolve(urlsplit(answer.headers["Location"]).path).view_name == LEADS_TO.get(name)
    return answer.status_code == 405 or (answer.status_code == 404 and name in NOT_OF_EVERY_ROW)


def test_batches_keep_what_they_were_begun_with(kept):
    """Every mark, and the verdict and radius of each trial hoop as it was judged."""
    trials = TrialHoop.objects.select_related("batch__recipe__tube", "batch__organisation").all()
    assert HoopBatch.objects.filter(by_pulls=True).exists() == (kept.commit != COMMITS[0])
    assert len(trials) > 0
    for trial in trials:
        judged = judge_trial(trial.batch, trial)
        assert judged.verdict == trial.verdict
        assert abs(judged.effective_radius - float(trial.effective_radius)) < 1e-4
        assert trial.batch.by_pulls or bend_of(trial.batch).left_off == []
