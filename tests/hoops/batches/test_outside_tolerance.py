"""A trial hoop outside the tolerance: accepted with a reason by whoever belongs here, or the tolerance changed."""

from __future__ import annotations

import pytest
from django.core.exceptions import ValidationError
from django.db import IntegrityError, transaction
from django.urls import reverse

from farmbuild.crew.gate.selectors import gates_of
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.benders.selectors import any_bender_of, measured_radius_of
from farmbuild.orgs.acts import NotAllowed
from tests.factories import FOOT, INCH, HouseFactory, MembershipFactory, SiteFactory, UserFactory
from tests.hoops.batches.making import TARGET, make_shop

pytestmark = pytest.mark.django_db

#: Half an inch past the two inches that it may be off by.
WIDE = TARGET + INCH * 2 + INCH / 2
WHY = "The posts take up to 2 ft of spring-in."


def page(name: str, *args: object) -> str:
    return reverse(f"hoops:{name}", args=args)


def text_of(response) -> str:
    return " ".join(response.content.decode().split()).replace("&#x27;", "'").replace("&quot;", '"')


def held(work, words: str) -> None:
    with pytest.raises(IntegrityError, match=words), transaction.atomic():
        work()


@pytest.fixture
def wide(shop) -> TrialHoop:
    shop.issue(2)
    return shop.measure(WIDE)


def test_it_is_accepted_with_a_reason_and_opens_the_gate(shop, wide):
    assert wide.verdict == "under-bent"
    for reason in ("", "   "):
        with pytest.raises(ValidationError, match="Say why it is good all the same") as refused:
            services.accept_trial(**shop.on, trial=wide, reason=reason)
        assert set(refused.value.message_dict) == {"reason"}
    services.accept_trial(**shop.on, trial=wide, reason=f" {WHY} ")
    batch, trial = shop.now(), TrialHoop.objects.get()
    assert (batch.state, batch.hoops_bent, batch.accepted_trial_id) == ("proven", 1, trial.pk)
    assert (trial.accepted, trial.accept_reason, trial.accepted_by, trial.verdict) == (
        True,
        WHY,
        shop.user,
        "under-bent",
    )
    shop.issue(24)
    services.record_bent(**shop.on, hoops=12)


def test_one_within_the_tolerance_takes_none(shop):
    shop.issue(2)
    services.accept_trial(**shop.on, trial=shop.measure(TARGET), reason="because")
    trial = TrialHoop.objects.get()
    assert (trial.accept_reason, trial.accepted_outside, trial.accepted_by) == ("", False, shop.user)


def test_a_reason_too_long_is_refused_in_words(shop, wide):
    with pytest.raises(ValidationError, match="at most 200"):
        services.accept_trial(**shop.on, trial=wide, reason="x" * 201)
    assert shop.now().state == "trial"


def test_who_does_not_belong_here_may_not(shop, wide):
    hands = [MembershipFactory(organisation=shop.organisation, role=role).user for role in ("yard", "crew")]
    for user in (UserFactory(), MembershipFactory().user, *hands):
        with pytest.raises(NotAllowed, match="Nobody but owners and planners"):
            services.set_tolerances(organisation=shop.organisation, user=user, batch=shop.batch, data={})
        with pytest.raises(NotAllowed, match="Nobody but owners"):
            services.accept_trial(organisation=shop.organisation, user=user, batch=shop.batch, trial=wide, reason=WHY)
    assert not TrialHoop.objects.filter(accepted=True).exists()
    other = MembershipFactory(organisation=shop.organisation, role="planner").user
    services.accept_trial(organisation=shop.organisation, user=other, batch=shop.batch, trial=wide, reason=WHY)


def test_sticks_that_are_scrap_are_accepted_for_no_reason(shop, wide):
    services.write_off_sticks(**shop.on, quantity=1, reason="kinked", trial=wide)
    with pytest.raises(ValidationError, match="written off as spoilt"):
        services.accept_trial(**shop.on, trial=wide, reason=WHY)


def test_accepted_twice_counts_once(shop, wide):
    services.accept_trial(**shop.on, trial=wide, reason=WHY)
    with pytest.raises(ValidationError, match="accepted already"):
        services.accept_trial(**shop.on, trial=wide, reason="another")
    assert (TrialHoop.objects.get().accept_reason, shop.now().hoops_bent) == (WHY, 1)


def test_the_crew_may_bend_then(shop):
    house = HouseFactory(
        site=SiteFactory(organisation=shop.organisation), recipe=shop.batch.recipe, post_span=FOOT * 12
    )
    shop.batch = services.create_batch(
        **shop.who, recipe=shop.batch.recipe, bender=shop.batch.bender, quantity=13, shares={house: 13},
        data={"post_span": FOOT * 12, "spring_in": TARGET - FOOT * 12},
    )  # fmt: skip
    shop.issue(2)
    wide = shop.measure(WIDE)

    def is_open() -> bool:
        return gates_of(organisation=shop.organisation, houses=[house])[house.pk].is_open

    assert not is_open()
    services.accept_trial(**shop.on, trial=wide, reason=WHY)
    assert is_open()


def test_what_it_measured_is_the_benders(shop, wide, organisation, signed_in):
    bender = shop.batch.bender
    services.accept_trial(**shop.on, trial=wide, reason=WHY)
    assert measured_radius_of(bender=bender) == wide.effective_radius
    assert any_bender_of(organisation=organisation).get().measured_radius == wide.effective_radius
    assert f"under-bent: {WHY}" in text_of(signed_in.get(bender.get_absolute_url()))


def test_a_hoop_that_is_no_arc_tells_no_radius(shop, organisation, signed_in):
    bender = shop.batch.bender
    shop.issue(2)
    services.accept_trial(**shop.on, trial=shop.measure(TARGET, twist=INCH * 3), reason="The joint turns back.")
    assert measured_radius_of(bender=bender) is None
    assert any_bender_of(organisation=organisation).get().measured_radius is None
    shown = text_of(signed_in.get(bender.get_absolute_url()))
    assert "No trial hoop has been accepted on it yet" not in shown
    assert "twisted: The joint turns back." in shown


# The tolerance.


def wider(shop, **changes):
    data = {"span_tolerance": INCH * 3, "rise_tolerance": INCH * 2, "twist_tolerance": INCH * 2} | changes
    return services.set_tolerances(**shop.on, data=data)


def test_the_tolerance_changes_until_a_trial_hoop_is_accepted(shop, wide):
    wider(shop)
    assert TrialHoop.objects.get().verdict == "accepted"
    wider(shop, span_tolerance=INCH)
    assert TrialHoop.objects.get().verdict == "under-bent"
    with pytest.raises(ValidationError, match="not within the tolerance"):
        services.accept_trial(**shop.on, trial=wide)
    wider(shop)
    services.accept_trial(**shop.on, trial=wide)
    assert not TrialHoop.objects.get().accepted_outside
    with pytest.raises(ValidationError, match="accepted already"):
        wider(shop, span_tolerance=INCH * 4)


def test_a_tolerance_below_nothing_is_refused(shop):
    with pytest.raises(ValidationError) as refused:
        wider(shop, rise_tolerance=-INCH)
    assert set(refused.value.message_dict) == {"rise_tolerance"}


def test_the_batch_of_others_is_left_alone(shop):
    other = make_shop(MembershipFactory().organisation, None)
    with pytest.raises(HoopBatch.DoesNotExist):
        services.set_tolerances(**shop.who, batch=other.batch, data={})


# Past the services.


def test_the_database_asks_for_the_reason(shop, wide):
    rows = TrialHoop.objects.filter(pk=wide.pk)
    for reason in ("", "  "):
        held(lambda reason=reason: rows.update(accepted=True, accept_reason=reason), "trial_accepted_with")
    held(lambda: rows.update(verdict="accepted"), "trial_judged_by_the_tolerance")
    held(lambda: rows.update(accept_reason="early"), "trialhoop_never_edited")
    services.accept_trial(**shop.on, trial=wide, reason=WHY)
    for change in ({"accept_reason": "other"}, {"accepted_by": None}, {"accepted": False}, {"verdict": "twisted"}):
        held(lambda change=change: rows.update(**change), "trialhoop_never_edited|trial_accepted_with")
    held(lambda: HoopBatch.objects.update(span_tolerance=INCH * 9), "tolerance_stays_once_proven")


@pytest.mark.parametrize("off", [{"free_span": WIDE}, {"twist": INCH * 3}])
def test_the_database_judges_span_and_twist(shop, off):
    shop.issue(2)
    measured = {"free_span": TARGET, "twist": None} | off
    held(
        lambda: TrialHoop.objects.create(
            batch=shop.batch, attempt=1, rise=INCH * 73, stop_gap=INCH, target_span=TARGET, verdict="accepted",
            effective_radius=INCH * 79, fresh_sticks=2, **measured,
        ),
        "trial_judged_as_measured",
    )  # fmt: skip


def test_the_database_takes_one_off_by_the_whole_tolerance(shop):
    shop.issue(2)
    trial = shop.measure(TARGET + INCH * 2)
    wider(shop, span_tolerance=INCH)
    held(lambda: TrialHoop.objects.update(verdict="accepted"), "trial_judged_by_the_tolerance")
    wider(shop, span_tolerance=INCH * 2)
    services.accept_trial(**shop.on, trial=trial)


# Pages, sheet and PDF.


def test_from_refused_to_accepted_on_the_page(signed_in, shop, wide):
    attempt = page("batch-attempt", 1, 1)
    shown = signed_in.get(attempt)
    assert shown.context["can_accept_outside"] and not shown.context["can_accept"]
    assert page("batch-accept-outside", 1, 1) in text_of(shown)
    form = signed_in.get(page("batch-accept-outside", 1, 1))
    assert 'under-bent by 2 1/2"' in text_of(form)
    refused = signed_in.post(page("batch-accept-outside", 1, 1), {"reason": " "})
    assert "Say why in a few words" in refused.context["form"].errors["reason"][0]
    assert shop.now().state == "trial"
    assert signed_in.post(page("batch-accept-outside", 1, 1), {"reason": WHY})["Location"] == page("batch", 1)
    said = f"Reason: {WHY}"
    for address in (page("batch", 1), attempt, page("batch-sheet", 1)):
        assert said in text_of(signed_in.get(address)), address
    assert "accepted outside tolerance" in text_of(signed_in.get(page("batch", 1)))
    again = signed_in.post(page("batch-accept-outside", 1, 1), {"reason": "another"})
    assert "is accepted already" in text_of(again) and "<textarea" not in text_of(again)
    assert TrialHoop.objects.get().accept_reason == WHY


def test_the_crew_is_told_who_may(client, shop, wide):
    client.force_login(MembershipFactory(organisation=shop.organisation, role="crew").user)
    shown = text_of(client.get(page("batch-attempt", 1, 1)))
    assert page("batch-accept-outside", 1, 1) not in shown and "An owner or a planner may accept it" in shown
    assert page("batch-tolerance", 1) not in text_of(client.get(page("batch", 1)))
    refused = client.post(page("batch-accept-outside", 1, 1), {"reason": WHY})
    assert refused.status_code == 403
    assert shop.now().state == "trial"


def test_a_sheet_of_one_within_says_nothing_of_it(signed_in, shop):
    shop.prove()
    assert "outside the tolerance" not in text_of(signed_in.get(page("batch-sheet", 1)))


def test_the_page_of_the_tolerance(signed_in, shop, wide):
    address = page("batch-tolerance", 1)
    form = signed_in.get(address).context["form"]
    assert form["span_tolerance"].value() == '2"'
    sent = {"span_tolerance": "3 in", "rise_tolerance": "2", "twist_tolerance": "2", "opened": form["opened"].value()}
    refused = signed_in.post(address, sent | {"span_tolerance": "wide"})
    assert "cannot be read" in refused.context["form"].errors["span_tolerance"][0]
    assert signed_in.post(address, sent)["Location"] == page("batch", 1)
    assert shop.now().span_tolerance == INCH * 3
    assert signed_in.get(page("batch-attempt", 1, 1)).context["can_accept"]
    second = signed_in.post(address, sent | {"span_tolerance": "4 in"})
    assert "Someone else saved this" in text_of(second)
    assert shop.now().span_tolerance == INCH * 3
    signed_in.post(page("batch-accept", 1, 1))
    assert "so its tolerance stays" in text_of(signed_in.get(address))
    late = signed_in.post(address, sent)
    assert "accepted already" in text_of(late)


def test_rows_of_others_are_not_there(signed_in):
    other = make_shop(MembershipFactory().organisation, None)
    other.issue(2)
    other.measure(WIDE)
    other.batch.number = 7
    type(other.batch).objects.filter(pk=other.batch.pk)
    for address in (page("batch-tolerance", 1), page("batch-accept-outside", 1, 1)):
        assert signed_in.get(address).status_code == 404
        assert signed_in.post(address, {"reason": WHY}).status_code == 404
