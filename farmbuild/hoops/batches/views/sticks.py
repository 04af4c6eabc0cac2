"""Sticks of a batch: issued, returned, written off."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.utils.translation import gettext

from farmbuild.common.speaking import said_count
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.forms import (
    GiveBackForm,
    IssueForm,
    SpoiltForm,
)
from farmbuild.hoops.batches.selectors import (
    lots_for,
    lots_given_by,
    sticks_to_issue,
    sticks_to_write_off,
    unbent_sticks,
)
from farmbuild.hoops.batches.views.batches import batch_or_404, save_page, trial_or_404


def issue(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    wanted = sticks_to_issue(batch=batch)
    form = IssueForm(request.POST or None, organisation=organisation, batch=batch, initial={"quantity": wanted or ""})
    return save_page(
        request,
        batch,
        form,
        lambda data: services.issue_sticks(organisation=organisation, user=request.user, batch=batch, **data),
        template="issue",
        message=lambda row: (
            gettext("%(value)s of %(lot)s are issued to %(batch)s.")
            % {"value": said_count(-row.movement.quantity, "stick"), "lot": row.movement.lot, "batch": batch}
        ),
        wanted=wanted,
        lots=lots_for(batch=batch).exists(),
    )


def give_back(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    unbent = unbent_sticks(batch=batch)
    form = GiveBackForm(
        request.POST or None,
        organisation=organisation,
        came=lots_given_by(batch=batch),
        initial={"quantity": unbent or ""},
    )
    return save_page(
        request,
        batch,
        form,
        lambda data: services.return_sticks(organisation=organisation, user=request.user, batch=batch, **data),
        template="give_back",
        message=lambda row: (
            gettext("%(quantity)s are back in %(lot)s.")
            % {"quantity": said_count(row.movement.quantity, "stick"), "lot": row.movement.lot}
        ),
        unbent=unbent,
    )


def spoilt(request: HttpRequest, number: int, attempt: int | None = None) -> HttpResponse:
    """Write issued sticks off; with ``attempt`` those that its trial hoop was made of."""
    batch, organisation = batch_or_404(request, number), request.organisation
    trial = None if attempt is None else trial_or_404(batch, attempt)
    left = sticks_to_write_off(batch=batch, trial=trial)
    first = (
        {
            "quantity": left or "",
            "reason": gettext("Trial hoop %(attempt)s: %(verdict)s")
            % {"attempt": trial.attempt, "verdict": trial.verdict},
        }
        if trial
        else {}
    )
    return save_page(
        request,
        batch,
        SpoiltForm(request.POST or None, organisation=organisation, initial=first),
        lambda data: services.write_off_sticks(
            organisation=organisation, user=request.user, batch=batch, trial=trial, **data
        ),
        template="spoilt",
        message=lambda row: (
            gettext("%(sticks)s of %(batch)s are written off.")
            % {"sticks": said_count(row.sticks, "stick"), "batch": batch}
        ),
        trial=trial,
        left=left,
    )
