"""Every function that writes asks for an act, or is named here with its reason; and each role gets what is its own."""

from __future__ import annotations

import ast
import importlib
from datetime import date
from functools import cache

import pytest
from django.core.exceptions import ValidationError
from django.db import transaction

from farmbuild.buying.receiving import Arrival, receive_goods
from farmbuild.crew.feeds import make_feed, revoke_feed
from farmbuild.orgs.acts import Act, NotAllowed, Role, acts_given, acts_of_services
from tests.buying.sent_order import sent_order
from tests.factories import BenderFactory, MembershipFactory, PersonFactory
from tests.where import ROOT

#: Floors that store nothing, and what calls services but is none.
ELSEWHERE = {
    "planning",
    "mechanics",
    "measure",
    "migrations",
    "management",
    "views",
    "templatetags",
    "demo",
    "access",
}
WRITES = {"save", "bulk_create", "bulk_update", "delete", "get_or_create", "update_or_create", "select_for_update"}
#: Of a queryset, where fields are given by name; of a dict or a digest they store nothing.
OF_ROWS = {"create", "update"}

WITHIN = "called by services, within what their user does"
LOCKS = "holds rows for the service that calls it"
NOBODY = "nobody belongs to it yet, or the machine does it"
MEMBER = "by a member who borrows, for itself alone: it is no person of the cooperative"
CUSTOMER = "by whoever has the link, for what it leads to alone"
EXCEPT = {
    "moving.erasing.erase_self": "one's own, with the password, or whoever is at the machine",
    "moving.services.drop_old": "copies whose two days are over",
    "api.tokens.end_tokens_of": WITHIN,
    "api.tasks.wake": NOBODY,
    "coop.joint.receivers.refuse_while_it_takes_part": WITHIN,
    "coop.books.services.post_entries": WITHIN,
    "coop.books.services.take_entries_back": WITHIN,
    "coop.charges.services.dispute_damage": MEMBER,
    "coop.pipe.services.tell_pipe": MEMBER,
    "coop.pipe.services.agree_to_pipe": MEMBER,
    "coop.pipe.services.tell_return": MEMBER,
    "coop.pipe.services.agree_to_return": MEMBER,
    "coop.pipe.services.withdraw_told": MEMBER,
    "coop.pipe.own.give_own_leave": MEMBER,
    "coop.pipe.own.end_own_leave": MEMBER,
    "coop.common.services.wish_for": MEMBER,
    "coop.common.services.withdraw_wish": MEMBER,
    "coop.common.services.keep_for": WITHIN,
    "coop.common.services.take_wish_back": WITHIN,
    "coop.common.leaving.withdraw_what_plans_asked": WITHIN,
    "coop.common.plans.lock_common_stock": LOCKS,
    "crew.bookings.photos.attach_photos": WITHIN,
    "buying.drafting.lines.close_gap": WITHIN,
    "buying.drafting.store.lock_organisation": LOCKS,
    "buying.drafting.store.lock_drafts": LOCKS,
    "buying.drafting.store.store": WITHIN,
    "buying.drafting.store.note_change": WITHIN,
    "buying.landing.adjusting.adjust_to_what_is_known": WITHIN,
    "buying.landing.adjusting.undo_adjustments": WITHIN,
    "buying.invoices.services.store": WITHIN,
    "stock.repricing.reprice_by": WITHIN,
    "stock.leave.carry": WITHIN,
    "stock.leave.move_leave": WITHIN,
    "stock.owners.services.give_leave": MEMBER,
    "stock.owners.services.pass_to_member": MEMBER,
    "stock.owners.services.take_leave_back": MEMBER,
    "stock.owners.services.receive_for_member": MEMBER,
    "orgs.owners.an_owner_stays": LOCKS,
    "buying.reserving.services.detach_from_lots": WITHIN,
    "buying.reserving.services.release_lines": WITHIN,
    "buying.second_person.ask": WITHIN,
    "buying.sending.lock_order": LOCKS,
    "buying.sending.update_state": WITHIN,
    "buying.services.record_orders": WITHIN,
    "buying.services.note_less_wanted": WITHIN,
    "catalogue.history.keep": WITHIN,
    "catalogue.services.add_starting_catalogue": NOBODY,
    "catalogue.services.fill_shipped_notes": NOBODY,
    "common.background.release_left_behind": NOBODY,
    "common.edit_conflicts.refuse_if_changed": LOCKS,
    "common.long_work.let_go": NOBODY,
    "common.long_work.end_early": WITHIN,
    "common.long_work.wait_anew": WITHIN,
    "coop.joint.own.take_over": MEMBER,
    "coop.joint.rules.lock_joint": LOCKS,
    "coop.joint.rules.store_need": WITHIN,
    "costs.taking_back.take_back_rows": WITHIN,
    "costs.time.posting.lock_people": LOCKS,
    "costs.time.posting.post": WITHIN,
    "crew.actuals.services.keep": WITHIN,
    "crew.actuals.services.lock_task": LOCKS,
    "crew.actuals.services.carry": WITHIN,
    "crew.actuals.trials.trial_accepted": WITHIN,
    "crew.actuals.trials.catch_up": WITHIN,
    "crew.bookings.history.record_move": WITHIN,
    "coop.members.services.move_own_over": MEMBER,
    "crew.bookings.member_requests.ask": WITHIN,
    "crew.bookings.member_requests.withdraw_asked": WITHIN,
    "crew.bookings.own.services.create_own_request": MEMBER,
    "crew.bookings.own.services.make_own_feed": MEMBER,
    "crew.bookings.own.services.record_own_hoop": MEMBER,
    "crew.bookings.own.services.revoke_own_feed": MEMBER,
    "crew.bookings.own.services.take_back_own_hoop": MEMBER,
    "crew.bookings.own.services.withdraw_own_request": MEMBER,
    "crew.bookings.rules.lock_benders": LOCKS,
    "crew.bookings.rules.lock_booking": LOCKS,
    "crew.bookings.rules.save_booking": WITHIN,
    "crew.feeds.make_of": WITHIN,
    "crew.feeds.revoke_of": WITHIN,
    "crew.people.services.lock_organisation": LOCKS,
    "crew.people.signins.tie_person": WITHIN,
    "crew.people.signins.untie_person": WITHIN,
    "crew.steps.receivers.convert_rates": WITHIN,
    "drawings.dxf.set_dxf": "makes a file, and takes a mark out of it",
    "orgs.accounts.create_organisation": NOBODY,
    "orgs.accounts.add_person": NOBODY,
    "orgs.accounts.add_visitor": WITHIN,
    "orgs.currency.lock_currency": LOCKS,
    "orgs.first_account.open_first_account": NOBODY,
    "orgs.services.note_use": "where somebody was last, written as they come",
    "plans.reserving.services.release_houses": WITHIN,
    "plans.reserving.services.reserve_again": WITHIN,
    "plans.reserving.services.reserve_fetched": WITHIN,
    "plans.services.store_plan": WITHIN,
    "quotes.changes.services.answer_by_link": CUSTOMER,
    "quotes.sending.accepting.accept_by_link": CUSTOMER,
    "quotes.sending.services.lock_job": LOCKS,
    "hoops.batches.measured.services.store_hoop": WITHIN,
    "crew.bookings.warning_mail.claim": NOBODY,
    "stock.counts.services.lock_open_count": LOCKS,
    "stock.counts.services.store_lines": WITHIN,
    "stock.counts.services.finish_count": WITHIN,
    "stock.ledger.new_lot_like": WITHIN,
    "stock.receivers.drop_drafts": WITHIN,
    "stock.reserving.consuming.consume": WITHIN,
    "stock.reserving.consuming.record_used": WITHIN,
    "stock.reserving.consuming.reduce_reservation": WITHIN,
    "stock.reserving.services.locked_by_key": LOCKS,
    "stock.reserving.services.reserve": WITHIN,
    "stock.reserving.services.give_to_first_house": WITHIN,
    "stock.reserving.services.update_need_dates": WITHIN,
    "stock.services.places_named": WITHIN,
    "stock.services.lock_references": LOCKS,
    "stock.services.take_numbers": WITHIN,
    "stock.services.post_movement": WITHIN,
    "stock.services.post_movements": WITHIN,
    "stock.services.make_room": WITHIN,
    "stock.costing.store_shares": WITHIN,
}


def stores(function: ast.FunctionDef) -> bool:
    """Whether it opens a transaction, or calls what stores rows of a model."""
    if any("transaction.atomic" in ast.unparse(each) for each in function.decorator_list):
        return True
    for node in ast.walk(function):
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
            continue
        if node.func.attr in WRITES or (node.func.attr in OF_ROWS and node.keywords and not node.args):
            return True
    return False


@cache
def writing() -> tuple[str, ...]:
    """Every public function of a room that stores, by its name without "farmbuild."."""
    found = []
    for path in sorted((ROOT / "farmbuild").rglob("*.py")):
        parts = path.relative_to(ROOT / "farmbuild").with_suffix("").parts
        if ELSEWHERE & {*parts} or parts[0] == "history" or parts[-1] in ("views", "admin", "middleware"):
            continue
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and not node.name.startswith("_") and stores(node):
                found.append(".".join((*parts, node.name)))
    return tuple(found)


def registered() -> dict[str, Act]:
    # Tests of acts make some of their own.
    rooms = {name: act for name, act in acts_of_services().items() if name.startswith("farmbuild.")}
    return {name.removeprefix("farmbuild."): act for name, act in rooms.items()}


def test_every_function_that_writes_asks_for_an_act():
    found = writing()
    for name in found:
        importlib.import_module(f"farmbuild.{name.rpartition('.')[0]}")
    without = set(found) - set(registered())

    assert len(found) > 150
    assert without - set(EXCEPT) == set(), "put @needs(Act.…) on these"
    assert set(EXCEPT) - without == set(), "these ask for an act, or are gone"


@cache
def services() -> list[tuple[str, Act]]:
    for name in writing():
        importlib.import_module(f"farmbuild.{name.rpartition('.')[0]}")
    return sorted(item for item in registered().items() if item[0].split(".")[0] not in ELSEWHERE)


#: These ask more of whoever takes what is not their own, before anything else.
NARROWER = {"crew.feeds.make_feed", "crew.feeds.revoke_feed"}


def called(name: str, **given) -> None:
    module, _, function = name.rpartition(".")
    getattr(importlib.import_module(f"farmbuild.{module}"), function)(**given)


@pytest.fixture
def people(organisation):
    return {role: MembershipFactory(organisation=organisation, role=role).user for role in Role}


@pytest.mark.parametrize("role", Role)
def test_each_role_is_let_through_or_refused_by_each_service(organisation, people, role):
    """A service that lets somebody through fails for want of what it works on; none gets so far for others."""
    for name, act in services():
        if name in NARROWER:
            continue
        allowed = act in acts_given(role=role)
        try:
            with transaction.atomic():
                called(name, organisation=organisation, user=people[role])
        except NotAllowed:
            assert not allowed, f"{name} refuses {role}"
        except (TypeError, ValueError, ValidationError):
            assert allowed, f"{name} lets {role} through"
        else:
            assert allowed, f"{name} lets {role} through"


def test_nobody_of_another_organisation_is_let_through(organisation):
    stranger = MembershipFactory().user
    for name, _ in services():
        with pytest.raises(NotAllowed):
            called(name, organisation=organisation, user=stranger)


@pytest.mark.parametrize(
    ("name", "roles"),
    [
        ("orgs.services.save_organisation", "owner"),
        ("orgs.throwing_away.throw_away", "owner"),
        ("buying.sending.send_order", "owner planner"),
        ("buying.sending.cancel_order", "owner planner"),
        ("buying.replying.apply_reply", "owner planner"),
        ("buying.drafting.services.change_line", "owner planner"),
        ("buying.receiving.receive_goods", "owner planner yard"),
        ("plans.accepting.accept_plan", "owner planner"),
        ("plans.accepting.release_plan", "owner planner"),
        ("plans.services.create_plan", "owner planner"),
        ("catalogue.services.save_offer", "owner planner"),
        ("sites.services.save_house", "owner planner"),
        ("hoops.recipes.services.save_recipe", "owner planner"),
        ("hoops.batches.services.record_trial", "owner planner yard crew"),
        ("hoops.batches.services.accept_trial", "owner planner yard"),
        ("hoops.batches.services.set_tolerances", "owner planner"),
        ("stock.services.scrap", "owner planner yard"),
        ("stock.counts.posting.post_count", "owner planner yard"),
        ("stock.cutting.cut_sticks", "owner planner yard"),
        ("crew.bookings.services.book", "owner planner yard"),
        ("crew.actuals.services.record", "owner planner yard crew"),
        ("crew.problems.services.add_photos", "owner planner yard crew"),
        ("crew.hours.services.approve", "owner planner"),
        ("crew.schedule.services.publish_schedule", "owner planner"),
    ],
)
def test_who_does_what_in_a_yard(name, roles):
    act = dict(services())[name]

    assert [role.value for role in Role if act in acts_given(role=role)] == roles.split()


def test_calendars_of_others_ask_for_more(organisation, people):
    own = PersonFactory(crew__organisation=organisation, user=people[Role.CREW])
    bender = BenderFactory(organisation=organisation)

    def made(role, **of):
        make_feed(organisation=organisation, user=people[role], **of)
        revoke_feed(organisation=organisation, user=people[role], **of)

    made(Role.CREW, person=own)
    made(Role.PLANNER, person=own)
    made(Role.YARD, bender=bender)
    for role, of in ((Role.YARD, {"person": own}), (Role.CREW, {"bender": bender}), (Role.LOOKS, {"bender": bender})):
        for change in (make_feed, revoke_feed):
            with pytest.raises(NotAllowed):
                change(organisation=organisation, user=people[role], **of)


def test_the_yard_receives_what_a_planner_ordered(organisation, people):
    """What a service calls in turn is not asked: lots come in, reservations move, the order is received."""
    order = sent_order(organisation, 10)
    receive_goods(
        organisation=organisation,
        user=people[Role.YARD],
        order=order,
        arrivals=[Arrival(order.lines.get().pk, 10)],
        received_on=date(2027, 4, 20),
        token="form-1",
        place="Rack",
    )
    order.refresh_from_db()
    assert order.state == "received"
