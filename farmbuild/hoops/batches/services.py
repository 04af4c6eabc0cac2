"""Writes of hoop batches: one transaction a user action, with the batch's row locked.

The gate: until a trial hoop is measured and accepted, no hoop counts as bent and no sticks past the trial hoop's
leave the stock. It is said here in words, and held by constraints and triggers whoever writes.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max, QuerySet
from django.utils.translation import gettext, ngettext

from farmbuild.common.fields import usual_lengths
from farmbuild.common.lengths import length_text
from farmbuild.common.reading import units_of
from farmbuild.common.speaking import said_count
from farmbuild.hoops.batches.bridge import Verdict, batch_problems, judge_trial, trial_problems
from farmbuild.hoops.batches.models import BatchHouse, BatchSticks, BentHoops, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.hoops.batches.selectors import latest_trial, sticks_by_lot, sticks_to_write_off, unbent_sticks
from farmbuild.hoops.batches.signals import batch_changed, trial_accepted
from farmbuild.hoops.batches.words import VERDICTS
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.recipes.bridge import recipe_problems
from farmbuild.hoops.recipes.models import Recipe
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, check_may, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.models import House
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.services import issue_pieces, return_pieces

_MICRON = Decimal("0.000001")
TOLERANCES = ("span_tolerance", "rise_tolerance", "twist_tolerance")
#: What the take-off calls the sticks of hoops.
HOOPS = "hoops"


def _locked(organisation: Organisation, batch: HoopBatch) -> HoopBatch:
    """The batch as it is now, and nobody else's until the transaction ends."""
    rows = HoopBatch.objects.of(organisation).select_for_update(of=("self",), no_key=True)
    return rows.select_related("recipe__tube", "recipe__sleeve_material", "organisation").get(pk=batch.pk)


def _refuse(words: str, field: str | None = None) -> ValidationError:
    return ValidationError({field: words} if field else words)


def _check_open(batch: HoopBatch) -> None:
    if batch.state == HoopBatch.State.DONE:
        raise _refuse(gettext("%(batch)s is done. Start another batch for more hoops.") % {"batch": batch})


def _check_trial(batch: HoopBatch) -> None:
    if batch.state != HoopBatch.State.TRIAL:
        raise _refuse(gettext("The trial hoop of %(batch)s is accepted already.") % {"batch": batch})


@needs(Act.BENDERS)
@transaction.atomic
def create_batch(
    *,
    organisation: Organisation,
    user: User,
    recipe: Recipe,
    bender: Bender,
    quantity: int,
    shares: Mapping[House, int],
    data: Mapping[str, Any],
) -> HoopBatch:
    """``shares``: hoops of the batch by house, together no more than ``quantity``. ``data``: post_span, spring_in and
    the three tolerances in mm, the last four optional. Raises ValidationError by field, a house's as share_<slug>.
    """
    # The lock makes numbers run without gaps or repeats.
    organisation = Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    for name, row in (("recipe", recipe), ("bender", bender)):
        if row.organisation_id != organisation.pk:
            raise _refuse(gettext("Choose one from the list."), name)
    if recipe_problems(recipe):
        raise _refuse(
            gettext("%(recipe)s makes no hoop as it stands. Correct the recipe first.") % {"recipe": recipe.name}
        )
    last = HoopBatch.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0
    given = usual_lengths(HoopBatch, organisation.unit_system)
    given |= {name: data[name] for name in ("spring_in", *TOLERANCES) if data.get(name) is not None}
    batch = HoopBatch(
        organisation=organisation,
        number=last + 1,
        recipe=recipe,
        bender=bender,
        quantity=quantity,
        post_span=data["post_span"],
        sticks_a_hoop=recipe.sticks,
        stop_gap=recipe.stop_gap,
        created_by=user,
        **given,
    )
    batch.clean_fields()
    if problems := batch_problems(recipe, batch.post_span, batch.spring_in):
        raise ValidationError(problems)
    _check_shares(batch, shares)
    batch.full_clean()
    batch.save()
    for house, hoops in shares.items():
        BatchHouse.objects.create(batch=batch, house=house, hoops=hoops)
    batch_changed.send(HoopBatch, organisation=organisation, user=user, batch=batch)
    return batch


def _check_shares(batch: HoopBatch, shares: Mapping[House, int]) -> None:
    units = units_of(batch.organisation)
    for house, hoops in shares.items():
        field = f"share_{house.slug}"
        if house.organisation_id != batch.organisation_id:
            raise _refuse(gettext("A house is not yours. Open the form again from the recipe."))
        if house.recipe_id != batch.recipe_id:
            raise _refuse(
                gettext("%(house)s is specified with another recipe now. Leave its hoops empty.") % {"house": house},
                field,
            )
        if house.post_span != batch.post_span:
            raise _refuse(
                gettext(
                    "The posts of %(house)s stand %(post_span)s apart and this batch is for %(post_span_2)s. "
                    "Leave its hoops empty, and bend them as a batch of their own."
                )
                % {
                    "house": house,
                    "post_span": length_text(house.post_span, units),
                    "post_span_2": length_text(batch.post_span, units),
                },
                field,
            )
        if hoops < 1:
            raise _refuse(gettext("Type a whole number from 1, or leave it empty."), field)
    if (shared := sum(shares.values())) > batch.quantity:
        raise _refuse(
            gettext("The houses take %(shared)s together. Type at least %(shared_2)s, or give a house fewer.")
            % {"shared": said_count(shared, "hoop"), "shared_2": format_count(shared)},
            "quantity",
        )


@needs(Act.STOCK)
@transaction.atomic
def issue_sticks(*, organisation: Organisation, user: User, batch: HoopBatch, lot: Lot, quantity: int) -> BatchSticks:
    """Take sticks out of stock for a batch; before a trial hoop is accepted no more than one hoop takes."""
    batch = _locked(organisation, batch)
    lot = Lot.objects.of(organisation).select_related("material").get(pk=lot.pk)
    _check_open(batch)
    recipe, units = batch.recipe, units_of(organisation)
    if lot.material_id != recipe.tube_id or lot.length != recipe.stick_length or (recipe.sticks > 1 and lot.offcut):
        raise _refuse(
            gettext(
                "%(batch)s is bent from whole sticks of %(tube)s, %(stick_length)s each, and %(lot)s "
                "holds something else. Choose another lot."
            )
            % {
                "batch": batch,
                "tube": recipe.tube,
                "stick_length": length_text(recipe.stick_length, units),
                "lot": lot,
            },
            "lot",
        )
    if batch.state == HoopBatch.State.TRIAL:
        free = batch.trial_sticks_missing
        if quantity > free:
            rest = (
                gettext("so %(free)s more can be issued") % {"free": said_count(free, "stick")}
                if free
                else gettext("and they are issued")
            )
            raise _refuse(
                gettext(
                    "Until the trial hoop is measured and accepted, %(batch)s gets the %(sticks_a_hoop)s of "
                    "one hoop, %(rest)s. Spoilt sticks, written off with the reason, are replaced."
                )
                % {"batch": batch, "sticks_a_hoop": said_count(batch.sticks_a_hoop, "stick"), "rest": rest},
                "quantity",
            )
    # Sticks that the batch's houses hold for hoops go first, those of the house that needs them first.
    holders = [(share.house, share.hoops * batch.sticks_a_hoop, HOOPS) for share in _shares(batch)]
    movement = issue_pieces(
        organisation=organisation,
        user=user,
        lot=lot,
        quantity=quantity,
        reason=str(batch),
        holders=holders,
        # Trial and spoilt sticks too: whatever the batch takes is for its houses.
        sharing=[(share.house, share.hoops) for share in _shares(batch)],
    )
    return BatchSticks.objects.create(batch=batch, movement=movement)


def _shares(batch: HoopBatch) -> QuerySet[BatchHouse]:
    return batch.shares.select_related("house").order_by("house__need_date", "house__slug")


@needs(Act.STOCK)
@transaction.atomic
def return_sticks(*, organisation: Organisation, user: User, batch: HoopBatch, lot: Lot, quantity: int) -> BatchSticks:
    """Put unbent sticks back into the lot that they came from. What is bent or spoilt stays out."""
    batch = _locked(organisation, batch)
    lot = Lot.objects.of(organisation).get(pk=lot.pk)
    unbent = unbent_sticks(batch=batch)
    if quantity > unbent:
        raise _refuse(
            gettext("%(batch)s has %(unbent)s not bent yet; a bent stick cannot go back into stock.")
            % {"batch": batch, "unbent": said_count(unbent, "stick")},
            "quantity",
        )
    came = {row.lot.pk: row.sticks for row in sticks_by_lot(batch=batch)}.get(lot.pk, 0)
    if quantity > came:
        raise _refuse(
            gettext("%(batch)s has %(came)s from %(lot)s, so no more can go back there.")
            % {"batch": batch, "came": said_count(came, "stick"), "lot": lot},
            "quantity",
        )
    movement = return_pieces(
        organisation=organisation,
        user=user,
        lot=lot,
        quantity=quantity,
        reason=str(batch),
        holders=[share.house for share in _shares(batch)],
        of=Movement.objects.filter(lot=lot, batch_sticks__batch=batch),
    )
    return BatchSticks.objects.create(batch=batch, movement=movement)


@needs(Act.RECORD)
@transaction.atomic
def record_trial(
    *,
    organisation: Organisation,
    user: User,
    batch: HoopBatch,
    data: Mapping[str, Any],
    same_sticks: bool | None = None,
    lot: Lot | None = None,
    seen: int | None = None,
) -> TrialHoop:
    """Keep one measured trial hoop with its verdict. ``data``: free_span and rise in mm, last_gap, twist, note
    optional. Raises ValidationError by field; nothing is stored then.

    ``same_sticks`` is asked for while sticks of the trial hoop before are not written off: True where they were opened
    and pulled again, False where they are scrap; these are then written off, and as many fresh ones issued from
    ``lot``. ``seen``: how many trial hoops there were when that was said.
    """
    batch = _locked(organisation, batch)
    _check_trial(batch)
    if seen is not None and seen != batch.attempts:
        raise _refuse(
            gettext("Trial hoop %(attempts)s has been measured meanwhile. Open this page again.")
            % {"attempts": batch.attempts}
        )
    fresh = _fresh_sticks(organisation, user, batch, same_sticks, lot)
    batch.refresh_from_db(fields=["sticks_issued", "sticks_spoilt"])
    missing = batch.trial_sticks_missing
    if missing > 0:
        raise _refuse(
            gettext(
                "The trial hoop takes %(sticks_a_hoop)s. Issue %(missing)s from stock first, so that the "
                "stock stays true."
            )
            % {"sticks_a_hoop": said_count(batch.sticks_a_hoop, "stick"), "missing": missing}
        )
    measured = {name: data.get(name) for name in ("free_span", "rise", "last_gap", "twist")}
    trial = TrialHoop(
        batch=batch,
        attempt=batch.next_attempt,
        stop_gap=batch.stop_gap,
        target_span=batch.post_span + batch.spring_in,
        note=(data.get("note") or "").strip(),
        by=user,
        verdict="?",
        effective_radius=Decimal(1),
        fresh_sticks=fresh,
        **measured,
    )
    trial.clean_fields()
    if problems := trial_problems(batch, trial):
        raise ValidationError(problems)
    judgement = judge_trial(batch, trial)
    trial.verdict = judgement.verdict
    trial.effective_radius = Decimal(repr(judgement.effective_radius)).quantize(_MICRON)
    trial.full_clean()
    trial.save()
    return trial


def _fresh_sticks(
    organisation: Organisation, user: User, batch: HoopBatch, same_sticks: bool | None, lot: Lot | None
) -> int:
    """How many sticks of the next trial hoop are fresh, those of the one before seen to."""
    before = latest_trial(batch=batch)
    left = sticks_to_write_off(batch=batch, trial=before) if before else 0
    if before is None or not left:
        if same_sticks:
            raise _refuse(
                gettext("The sticks of the trial hoop before are written off. Open this page again."), "sticks"
            )
        return batch.sticks_a_hoop
    sticks = said_count(left, "stick")
    if same_sticks is None:
        raise _refuse(
            gettext("Say which sticks it is bent of: the %(sticks)s of trial hoop %(attempt)s again, or fresh ones.")
            % {"sticks": sticks, "attempt": before.attempt},
            "sticks",
        )
    if same_sticks:
        return before.spoilt_sticks
    if lot is None:
        raise _refuse(
            gettext("Choose the lot that the fresh sticks come from, %(left)s in all.") % {"left": left}, "lot"
        )
    reason = f"Trial hoop {before.attempt}: {VERDICTS[Verdict(before.verdict)]}"
    write_off_sticks(organisation=organisation, user=user, batch=batch, quantity=left, reason=reason, trial=before)
    batch.refresh_from_db(fields=["sticks_issued", "sticks_spoilt"])
    if batch.trial_sticks_missing > 0:
        try:
            issue_sticks(
                organisation=organisation, user=user, batch=batch, lot=lot, quantity=batch.trial_sticks_missing
            )
        except ValidationError as error:
            raise ValidationError({"lot": error.messages}) from error
    return batch.sticks_a_hoop


def _latest(batch: HoopBatch, trial: TrialHoop) -> TrialHoop:
    latest = latest_trial(batch=batch)
    if latest is None or latest.pk != trial.pk:
        raise _refuse(gettext("A later trial hoop has been measured. Look at that one."))
    return latest


@needs(Act.BENDERS)
@transaction.atomic
def accept_trial(
    *, organisation: Organisation, user: User, batch: HoopBatch, trial: TrialHoop, reason: str = ""
) -> HoopBatch:
    """Open the gate: the hoop last measured is good, and counts as the first of the batch.

    One outside the tolerance takes a ``reason``, and someone who plans. In the same transaction
    the task of the trial hoop is done for the houses that wait for no other batch.
    """
    batch = _locked(organisation, batch)
    _check_trial(batch)
    trial = _latest(batch, trial)
    if trial.spoilt.exists():
        raise _refuse(gettext("Sticks of this trial hoop are written off as spoilt. Bend another."))
    within, reason = trial.verdict == Verdict.ACCEPTED, reason.strip()
    if not within:
        check_may(organisation=organisation, user=user, act=Act.PLAN)
        if not reason:
            raise _refuse(
                gettext(
                    "This trial hoop is not within the tolerance. Say why it is good all the same, or correct"
                    " the stop gap and bend another."
                ),
                "reason",
            )
    trial.accepted, trial.accepted_by, trial.accept_reason = True, user, "" if within else reason
    trial.clean_fields(exclude=["note"])
    trial.save(update_fields=["accepted", "accepted_by", "accept_reason"])
    batch.accepted_trial = trial
    batch.state = HoopBatch.State.PROVEN
    batch.stop_gap = trial.stop_gap if trial.last_gap is None else trial.last_gap
    batch.save(update_fields=["accepted_trial", "state", "stop_gap"])
    BentHoops.objects.create(batch=batch, hoops=1, note=f"Trial hoop, attempt {trial.attempt}", by=user)
    trial_accepted.send(HoopBatch, organisation=organisation, user=user, batch=batch)
    batch_changed.send(HoopBatch, organisation=organisation, user=user, batch=batch)
    batch.refresh_from_db()
    return batch


@needs(Act.PLAN)
@transaction.atomic
def set_tolerances(*, organisation: Organisation, user: User, batch: HoopBatch, data: Mapping[str, Any]) -> HoopBatch:
    """How far a trial hoop may be off, by who plans and until one is accepted; those measured are judged anew.

    ``data``: span_tolerance, rise_tolerance and twist_tolerance in mm. Raises ValidationError by field.
    """
    batch = _locked(organisation, batch)
    _check_trial(batch)
    for name in TOLERANCES:
        setattr(batch, name, data[name])
    batch.clean_fields()
    batch.save(update_fields=TOLERANCES)
    for trial in batch.trials.all():
        verdict = judge_trial(batch, trial).verdict
        if verdict != trial.verdict:
            TrialHoop.objects.filter(pk=trial.pk).update(verdict=verdict)
    return batch


@needs(Act.BENDERS)
@transaction.atomic
def correct_gap(*, organisation: Organisation, user: User, batch: HoopBatch, trial: TrialHoop) -> HoopBatch:
    """Carry the stop gap that the trial hoop asks for to the batch; the next attempt is bent with it."""
    batch = _locked(organisation, batch)
    _check_trial(batch)
    judgement = judge_trial(batch, _latest(batch, trial))
    if judgement.gap_after is None:
        raise _refuse(
            gettext("This hoop is no true arc, so the stop gap cannot correct it. Find the cause and bend another.")
        )
    if judgement.gap_after >= batch.recipe.pitch:
        raise _refuse(
            gettext("No stop gap between two marks takes that up: marks, sticks or bender are not those of the recipe.")
        )
    batch.stop_gap = Decimal(repr(judgement.gap_after)).quantize(_MICRON)
    batch.save(update_fields=["stop_gap"])
    return batch


@needs(Act.STOCK)
@transaction.atomic
def write_off_sticks(
    *,
    organisation: Organisation,
    user: User,
    batch: HoopBatch,
    quantity: int,
    reason: str,
    trial: TrialHoop | None = None,
) -> SpoiltSticks:
    """Issued sticks that are scrap now; they are out of stock already. ``trial``: those of the hoop last measured."""
    batch = _locked(organisation, batch)
    _check_open(batch)
    if not reason.strip():
        raise _refuse(gettext("Say why in a few words, for example: bent too far."), "reason")
    if trial is not None:
        _check_trial(batch)
        trial = _latest(batch, trial)
    left = sticks_to_write_off(batch=batch, trial=trial)
    if not 1 <= quantity <= left:
        whose = (
            gettext("this trial hoop")
            if trial is not None
            else gettext("%(batch)s that are not in a hoop") % {"batch": batch}
        )
        words = (
            gettext("Type a whole number from 1 to %(left)s.") % {"left": left}
            if left
            else gettext("There is nothing to write off.")
        )
        raise _refuse(
            gettext("There are %(left)s of %(whose)s. %(words)s")
            % {"left": said_count(left, "stick"), "whose": whose, "words": words},
            "quantity",
        )
    row = SpoiltSticks(batch=batch, trial=trial, sticks=quantity, reason=reason.strip(), by=user)
    row.full_clean()
    row.save()
    return row


@needs(Act.RECORD)
@transaction.atomic
def record_bent(*, organisation: Organisation, user: User, batch: HoopBatch, hoops: int, note: str = "") -> BentHoops:
    """Hoops bent since the last entry. Refused before a trial hoop is accepted: that one is the first."""
    batch = _locked(organisation, batch)
    _check_open(batch)
    if batch.state == HoopBatch.State.TRIAL:
        raise _refuse(
            gettext(
                "No hoop of %(batch)s can be recorded before its trial hoop is measured and accepted; "
                "that one is the first."
            )
            % {"batch": batch}
        )
    left = batch.hoops_left
    if not 1 <= hoops <= left:
        words = (
            gettext("Type a whole number from 1 to %(left)s.") % {"left": format_count(left)}
            if left
            else gettext("Nothing is left to record.")
        )
        raise _refuse(
            gettext("%(hoops_bent)s of %(quantity)s are bent. %(words)s")
            % {
                "hoops_bent": format_count(batch.hoops_bent),
                "quantity": said_count(batch.quantity, "hoop"),
                "words": words,
            },
            "hoops",
        )
    unbent = unbent_sticks(batch=batch)
    if (needed := hoops * batch.sticks_a_hoop) > unbent:
        raise _refuse(
            gettext(
                "%(hoops)s take %(needed)s, and %(batch)s has %(unbent)s unbent. Issue %(needed_2)s more "
                "from stock first, so that the stock stays true."
            )
            % {
                "hoops": said_count(hoops, "hoop"),
                "needed": said_count(needed, "stick"),
                "batch": batch,
                "unbent": format_count(unbent),
                "needed_2": format_count(needed - unbent),
            },
            "hoops",
        )
    row = BentHoops(batch=batch, hoops=hoops, note=note.strip(), by=user)
    row.full_clean()
    row.save()
    HoopBatch.objects.filter(pk=batch.pk).update(state=HoopBatch.State.BENDING)
    batch_changed.send(HoopBatch, organisation=organisation, user=user, batch=batch)
    return row


@needs(Act.RECORD)
@transaction.atomic
def take_back_hoops(
    *, organisation: Organisation, user: User, batch: HoopBatch, hoops: int, reason: str, spoilt: bool
) -> BentHoops:
    """Hoops recorded as bent count no more: ``spoilt``, their sticks are scrap; else they were counted wrongly, and
    their sticks are not bent yet. A batch that was done goes on.
    """
    batch = _locked(organisation, batch)
    if not (reason := reason.strip()):
        raise _refuse(gettext("Say why in a few words, for example: kinked when set."), "reason")
    # The accepted trial hoop was there, whatever became of it.
    most = max(0, batch.hoops_bent - (0 if spoilt else 1))
    if not 1 <= hoops <= most:
        words = (
            gettext("Type a whole number from 1 to %(most)s.") % {"most": format_count(most)}
            if most
            else gettext("Nothing is left to take back.")
        )
        bent = said_count(batch.hoops_bent, "hoop")
        raise _refuse(
            gettext("%(bent)s of %(batch)s are bent, the trial hoop too. %(words)s")
            % {"bent": bent, "batch": batch, "words": words},
            "hoops",
        )
    row = BentHoops(batch=batch, hoops=-hoops, note=reason, by=user)
    row.full_clean()
    row.save()
    if spoilt:
        sticks = SpoiltSticks(batch=batch, sticks=hoops * batch.sticks_a_hoop, reason=reason, by=user)
        sticks.full_clean()
        sticks.save()
    HoopBatch.objects.filter(pk=batch.pk).update(state=HoopBatch.State.BENDING)
    batch_changed.send(HoopBatch, organisation=organisation, user=user, batch=batch)
    return row


@needs(Act.BENDERS)
@transaction.atomic
def finish_batch(*, organisation: Organisation, user: User, batch: HoopBatch, short: bool = False) -> HoopBatch:
    """Close a proven batch. ``short``: though fewer hoops were bent than wanted."""
    batch = _locked(organisation, batch)
    _check_open(batch)
    if batch.state == HoopBatch.State.TRIAL:
        raise _refuse(gettext("%(batch)s has no accepted trial hoop, so it cannot be done.") % {"batch": batch})
    if unbent := unbent_sticks(batch=batch):
        raise _refuse(
            ngettext(
                "%(unbent)s of %(batch)s is not bent. Return them to stock, or write them off if they are spoilt,"
                " and then finish.",
                "%(unbent)s of %(batch)s are not bent. Return them to stock, or write them off if they are spoilt,"
                " and then finish.",
                unbent,
            )
            % {"unbent": said_count(unbent, "stick"), "batch": batch}
        )
    if batch.hoops_bent < batch.quantity and not short:
        raise _refuse(
            gettext("%(hoops_bent)s of %(quantity)s are bent. Tick that it ends short, or bend the rest.")
            % {"hoops_bent": format_count(batch.hoops_bent), "quantity": said_count(batch.quantity, "hoop")},
            "short",
        )
    batch.state = HoopBatch.State.DONE
    batch.save(update_fields=["state"])
    batch_changed.send(HoopBatch, organisation=organisation, user=user, batch=batch)
    return batch
