"""Sticks of a batch: issued, returned, written off."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse

from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.forms import (
    GiveBackForm,
    IssueForm,
    SpoiltForm,
)
from farmbuild.hoops.batches.models import HoopBatch
from farmbuild.hoops.batches.selectors import (
    lots_for,
    sticks_by_lot,
    unbent_sticks,
)
from farmbuild.hoops.batches.views.batches import batch_or_404, save_page, trial_or_404
from farmbuild.measure import count_noun

ROWS = 25


def issue(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    lots = lots_for(batch=batch)
    if batch.state == HoopBatch.State.TRIAL:
        wanted = batch.sticks_a_hoop + batch.sticks_spoilt - batch.sticks_issued
    else:
        wanted = (batch.quantity - batch.hoops_bent) * batch.sticks_a_hoop - unbent_sticks(batch=batch)
    wanted = max(0, wanted)
    form = IssueForm(request.POST or None, organisation=organisation, batch=batch, initial={"quantity": wanted or ""})
    return save_page(
        request,
        batch,
        form,
        lambda data: services.issue_sticks(organisation=organisation, user=request.user, batch=batch, **data),
        template="issue",
        message=lambda row: (
            f"{count_noun(-row.movement.quantity, 'stick')} of {row.movement.lot} are issued to {batch}."
        ),
        wanted=wanted,
        lots=lots.exists(),
    )


def give_back(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    unbent = unbent_sticks(batch=batch)
    came = [row for row in sticks_by_lot(batch=batch) if row.sticks]
    form = GiveBackForm(request.POST or None, organisation=organisation, came=came, initial={"quantity": unbent or ""})
    return save_page(
        request,
        batch,
        form,
        lambda data: services.return_sticks(organisation=organisation, user=request.user, batch=batch, **data),
        template="give_back",
        message=lambda row: f"{count_noun(row.movement.quantity, 'stick')} are back in {row.movement.lot}.",
        unbent=unbent,
    )


def spoilt(request: HttpRequest, number: int, attempt: int | None = None) -> HttpResponse:
    """Write issued sticks off; with ``attempt`` those that its trial hoop was made of."""
    batch, organisation = batch_or_404(request, number), request.organisation
    trial = None if attempt is None else trial_or_404(batch, attempt)
    if trial:
        left = max(0, batch.sticks_a_hoop - trial.spoilt_sticks)
        first = {"quantity": left or "", "reason": f"Trial hoop {trial.attempt}: {trial.verdict}"}
    else:
        left, first = unbent_sticks(batch=batch), {}
    return save_page(
        request,
        batch,
        SpoiltForm(request.POST or None, organisation=organisation, initial=first),
        lambda data: services.write_off_sticks(
            organisation=organisation, user=request.user, batch=batch, trial=trial, **data
        ),
        template="spoilt",
        message=lambda row: f"{count_noun(row.sticks, 'stick')} of {batch} are written off.",
        trial=trial,
        left=left,
    )
