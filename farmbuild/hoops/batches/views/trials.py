"""Pages of trial hoops: measured, judged, accepted or corrected."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.http import require_POST

from farmbuild.common.lengths import length_text
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.bridge import Verdict
from farmbuild.hoops.batches.drawings import tape, trial_over_wanted
from farmbuild.hoops.batches.forms import (
    AcceptOutsideForm,
    TrialForm,
)
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.presenters import target_figures, trial_figures
from farmbuild.hoops.batches.selectors import trial_before, trial_to_ask_of
from farmbuild.hoops.batches.views.batches import batch_or_404, save_page, trial_or_404
from farmbuild.hoops.batches.words import can_correct, outside_words, sticks_words, verdict_of
from farmbuild.orgs.acts import Act, may


def measure(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    before = trial_to_ask_of(batch=batch)
    form = TrialForm(request.POST or None, organisation=organisation, batch=batch, before=before)
    return save_page(
        request,
        batch,
        form,
        lambda data: services.record_trial(
            organisation=organisation, user=request.user, batch=batch, data=data, **form.sticks_said()
        ),
        template="measure",
        message=lambda trial: gettext("Trial hoop %(attempt)s is kept.") % {"attempt": trial.attempt},
        redirect_to=lambda trial: _attempt_page(batch, trial),
        figures=target_figures(batch),
        next_attempt=batch.next_attempt,
        before=before,
        tape=tape(batch),
    )


def _attempt_page(batch: HoopBatch, trial: TrialHoop) -> str:
    return reverse("hoops:batch-attempt", args=[batch.number, trial.attempt])


def attempt(request: HttpRequest, number: int, attempt: int) -> HttpResponse:
    batch = batch_or_404(request, number)
    trial = trial_or_404(batch, attempt)
    verdict = verdict_of(batch, trial)
    latest = batch.state == HoopBatch.State.TRIAL and trial.attempt == batch.attempts
    good = trial.verdict == Verdict.ACCEPTED and not trial.spoilt_sticks
    refused = latest and not good and not trial.spoilt_sticks
    plans = refused and may(organisation=request.organisation, user=request.user, act=Act.PLAN)
    corrected = batch.stop_gap != trial.stop_gap
    context = {
        "batch": batch,
        "trial": trial,
        "verdict": verdict,
        "figures": trial_figures(batch, trial, verdict),
        "sticks": sticks_words(batch, trial, trial_before(batch=batch, attempt=trial.attempt)),
        "drawing": trial_over_wanted(batch, trial),
        "can_accept": latest and good,
        "can_accept_outside": plans,
        "asks_planner": refused and not plans,
        "outside": outside_words(batch, trial),
        "can_correct": latest and not good and not corrected and can_correct(batch, verdict.judgement),
        "can_write_off": latest and trial.spoilt_sticks < batch.sticks_a_hoop,
        "again": latest and not good,
        "gap": length_text(verdict.judgement.gap_after or 0.0, request.organisation.unit_system),
    }
    return render(request, "hoops/batches/attempt.html", context)


def _run(request: HttpRequest, batch: HoopBatch, action: Callable[[], Any], message: Callable[[], str]) -> HttpResponse:
    """A button that does one thing; a refusal is said on the batch's page."""
    try:
        action()
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, message())
    return redirect(batch)


@require_POST
def accept(request: HttpRequest, number: int, attempt: int) -> HttpResponse:
    batch = batch_or_404(request, number)
    trial = trial_or_404(batch, attempt)
    given = {"organisation": request.organisation, "user": request.user, "batch": batch, "trial": trial}
    return _run(
        request,
        batch,
        lambda: services.accept_trial(**given),
        lambda: (
            gettext("Trial hoop %(attempt)s is accepted. %(batch)s is proven and the rest may be bent.")
            % {"attempt": trial.attempt, "batch": batch}
        ),
    )


def accept_outside(request: HttpRequest, number: int, attempt: int) -> HttpResponse:
    """The page that asks why a trial hoop outside the tolerance is good all the same."""
    batch, organisation = batch_or_404(request, number), request.organisation
    trial = trial_or_404(batch, attempt)
    return save_page(
        request,
        batch,
        AcceptOutsideForm(request.POST or None, organisation=organisation),
        lambda data: services.accept_trial(
            organisation=organisation, user=request.user, batch=batch, trial=trial, **data
        ),
        template="accept_outside",
        message=lambda row: (
            gettext("Trial hoop %(attempt)s is accepted. %(row)s is proven and the rest may be bent.")
            % {"attempt": trial.attempt, "row": row}
        ),
        trial=trial,
        verdict=verdict_of(batch, trial),
        figures=trial_figures(batch, trial, verdict_of(batch, trial)),
    )


@require_POST
def correct(request: HttpRequest, number: int, attempt: int) -> HttpResponse:
    batch = batch_or_404(request, number)
    trial = trial_or_404(batch, attempt)
    given = {"organisation": request.organisation, "user": request.user, "batch": batch, "trial": trial}
    return _run(
        request,
        batch,
        lambda: services.correct_gap(**given),
        lambda: (
            gettext("%(batch)s has the corrected stop gap. Bend another trial hoop with it and measure that.")
            % {"batch": batch}
        ),
    )
