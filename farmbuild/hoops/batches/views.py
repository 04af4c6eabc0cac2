"""Pages of hoop batches."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST
from django_tables2 import RequestConfig, SingleTableView

from farmbuild.common.form_parts import put_errors
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.asking import batch_warnings_of, first_values, houses_for
from farmbuild.hoops.batches.drawings import trial_over_wanted, wanted_hoop
from farmbuild.hoops.batches.forms import (
    BatchForm,
    BentForm,
    FinishForm,
    GiveBackForm,
    IssueForm,
    SpoiltForm,
    TrialForm,
)
from farmbuild.hoops.batches.selectors import (
    attempts_needed,
    batches_of,
    bent_of,
    lots_for,
    shares_of,
    spoilt_of,
    sticks_by_lot,
    trials_of,
    unbent_sticks,
)
from farmbuild.hoops.batches.sheets import target_figures, trial_figures
from farmbuild.hoops.batches.tables import (
    AttemptsTable,
    BatchTable,
    BentTable,
    ShareTable,
    SpoiltTable,
    SticksTable,
    TrialTable,
)
from farmbuild.hoops.batches.words import can_correct, standing_of, verdict_of
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.hoops.bridge import Verdict, recipe_problems, say
from farmbuild.hoops.models import HoopBatch, TrialHoop
from farmbuild.hoops.selectors import any_recipe_of, recipes_of
from farmbuild.sites.selectors import any_house_of
from farmbuild.stock.words import so_many

ROWS = 25


def _batch(request: HttpRequest, number: int) -> HoopBatch:
    return get_object_or_404(batches_of(organisation=request.organisation), number=number)


def _trial(batch: HoopBatch, attempt: int) -> TrialHoop:
    return get_object_or_404(trials_of(batch=batch), attempt=attempt)


class BatchList(SingleTableView):
    table_class = BatchTable
    template_name = "hoops/batches/list.html"
    paginate_by = ROWS

    def get_queryset(self):
        return batches_of(organisation=self.request.organisation)

    def get_table_kwargs(self):
        return {"organisation": self.request.organisation}

    def get_context_data(self, **kwargs):
        context = super().get_context_data(**kwargs)
        organisation = self.request.organisation
        needed = attempts_needed(organisation=organisation)
        return context | {
            "count": context["table"].paginator.count,
            "in_trial": batches_of(organisation=organisation).filter(state=HoopBatch.State.TRIAL).count(),
            "attempts": AttemptsTable(needed, organisation=organisation) if needed else None,
        }


def create(request: HttpRequest) -> HttpResponse:
    """A batch of one recipe: ``?house=`` a house with its recipe, hoops and post span, or ``?recipe=``."""
    organisation, house, recipe = request.organisation, None, None
    if slug := request.GET.get("house"):
        house = get_object_or_404(any_house_of(organisation=organisation), slug=slug)
        recipe = house.recipe
    elif slug := request.GET.get("recipe"):
        recipe = get_object_or_404(any_recipe_of(organisation=organisation), slug=slug)
    if recipe is None:
        return render(request, "hoops/batches/choose.html", {"recipes": recipes_of(organisation=organisation)})
    if recipe_problems(recipe) or not benders_of(organisation=organisation).exists():
        return render(request, "hoops/batches/not_yet.html", {"recipe": recipe, "problems": recipe_problems(recipe)})
    houses = houses_for(organisation=organisation, recipe=recipe, first=house)
    first = first_values(recipe, houses, house)
    form = BatchForm(request.POST or None, initial=first, organisation=organisation, recipe=recipe, houses=houses)
    warnings = []
    if form.is_valid():
        data = dict(form.cleaned_data)
        warnings = batch_warnings_of(recipe, data)
        if warnings and not request.POST.get("go_on"):
            form.ask_to_go_on(True)
            form.add_error("go_on", "Read the warnings, and put the figures right or tick this.")
        else:
            try:
                batch = services.create_batch(
                    organisation=organisation,
                    user=request.user,
                    recipe=recipe,
                    bender=data["bender"],
                    quantity=data["quantity"],
                    shares=form.shares(),
                    data=data,
                )
            except ValidationError as error:
                put_errors(form, error)
            else:
                messages.success(request, f"{batch} is made: {so_many(batch.quantity, 'hoop')} of {recipe.name}.")
                return redirect(batch)
    elif not form.is_bound:
        warnings = batch_warnings_of(recipe, first)
    context = {"form": form, "recipe": recipe, "house": house, "warnings": warnings}
    return render(request, "hoops/batches/form.html", context)


def show(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = _batch(request, number), request.organisation
    spoilt = spoilt_of(batch=batch)
    context = {
        "batch": batch,
        "standing": standing_of(batch),
        "hoop": wanted_hoop(batch),
        "figures": target_figures(batch),
        "shares": ShareTable(shares_of(batch=batch), organisation=organisation),
        "sticks": SticksTable(sticks_by_lot(batch=batch), organisation=organisation),
        "unbent": unbent_sticks(batch=batch),
        "trials": TrialTable(trials_of(batch=batch).select_related("batch"), organisation=organisation),
        "bent": BentTable(bent_of(batch=batch), organisation=organisation),
        "spoilt": SpoiltTable(spoilt, organisation=organisation) if batch.sticks_spoilt else None,
        "warnings": batch_warnings_of(batch.recipe, {
            "bender": batch.bender, "post_span": batch.post_span, "spring_in": batch.spring_in,
            "span_tolerance": batch.span_tolerance,
        }),
    }  # fmt: skip
    for name in ("shares", "sticks", "trials", "bent"):
        RequestConfig(request, paginate=False).configure(context[name])
    return render(request, "hoops/batches/batch.html", context)


def _form_page(
    request: HttpRequest,
    batch: HoopBatch,
    form: forms.Form,
    act: Callable[[dict[str, Any]], Any],
    *,
    template: str,
    done: Callable[[Any], str],
    then: Callable[[Any], Any] | None = None,
    **context: Any,
) -> HttpResponse:
    """A form that does one thing to a batch; errors of the service land at its fields."""
    if form.is_valid():
        try:
            made = act(dict(form.cleaned_data))
        except ValidationError as error:
            put_errors(form, error)
        else:
            messages.success(request, done(made))
            return redirect(then(made) if then else batch)
    return render(request, f"hoops/batches/{template}.html", {"batch": batch, "form": form} | context)


def issue(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = _batch(request, number), request.organisation
    lots = lots_for(batch=batch)
    if batch.state == HoopBatch.State.TRIAL:
        wanted = batch.sticks_a_hoop + batch.sticks_spoilt - batch.sticks_issued
    else:
        wanted = (batch.quantity - batch.hoops_bent) * batch.sticks_a_hoop - unbent_sticks(batch=batch)
    wanted = max(0, wanted)
    form = IssueForm(request.POST or None, organisation=organisation, batch=batch, initial={"quantity": wanted or ""})
    return _form_page(
        request,
        batch,
        form,
        lambda data: services.issue_sticks(organisation=organisation, user=request.user, batch=batch, **data),
        template="issue",
        done=lambda row: f"{so_many(-row.movement.quantity, 'stick')} of {row.movement.lot} are issued to {batch}.",
        wanted=wanted,
        lots=lots.exists(),
    )


def give_back(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = _batch(request, number), request.organisation
    unbent = unbent_sticks(batch=batch)
    came = [row for row in sticks_by_lot(batch=batch) if row.sticks]
    form = GiveBackForm(request.POST or None, organisation=organisation, came=came, initial={"quantity": unbent or ""})
    return _form_page(
        request,
        batch,
        form,
        lambda data: services.give_back_sticks(organisation=organisation, user=request.user, batch=batch, **data),
        template="give_back",
        done=lambda row: f"{so_many(row.movement.quantity, 'stick')} are back in {row.movement.lot}.",
        unbent=unbent,
    )


def spoilt(request: HttpRequest, number: int, attempt: int | None = None) -> HttpResponse:
    """Write issued sticks off; with ``attempt`` those that its trial hoop was made of."""
    batch, organisation = _batch(request, number), request.organisation
    trial = None if attempt is None else _trial(batch, attempt)
    if trial:
        left = max(0, batch.sticks_a_hoop - trial.spoilt_sticks)
        first = {"quantity": left or "", "reason": f"Trial hoop {trial.attempt}: {trial.verdict}"}
    else:
        left, first = unbent_sticks(batch=batch), {}
    return _form_page(
        request,
        batch,
        SpoiltForm(request.POST or None, organisation=organisation, initial=first),
        lambda data: services.write_off_sticks(
            organisation=organisation, user=request.user, batch=batch, trial=trial, **data
        ),
        template="spoilt",
        done=lambda row: f"{so_many(row.sticks, 'stick')} of {batch} are written off.",
        trial=trial,
        left=left,
    )


def measure(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = _batch(request, number), request.organisation
    return _form_page(
        request,
        batch,
        TrialForm(request.POST or None, organisation=organisation),
        lambda data: services.record_trial(organisation=organisation, user=request.user, batch=batch, data=data),
        template="measure",
        done=lambda trial: f"Trial hoop {trial.attempt} is kept.",
        then=lambda trial: _attempt_page(batch, trial),
        figures=target_figures(batch),
        next_attempt=batch.attempts + 1,
    )


def _attempt_page(batch: HoopBatch, trial: TrialHoop) -> str:
    return reverse("hoops:batch-attempt", args=[batch.number, trial.attempt])


def attempt(request: HttpRequest, number: int, attempt: int) -> HttpResponse:
    batch = _batch(request, number)
    trial = _trial(batch, attempt)
    verdict = verdict_of(batch, trial)
    latest = batch.state == HoopBatch.State.TRIAL and trial.attempt == batch.attempts
    good = trial.verdict == Verdict.ACCEPTED and not trial.spoilt_sticks
    corrected = batch.stop_gap != trial.stop_gap
    context = {
        "batch": batch,
        "trial": trial,
        "verdict": verdict,
        "figures": trial_figures(batch, trial, verdict),
        "drawing": trial_over_wanted(batch, trial),
        "can_accept": latest and good,
        "can_correct": latest and not good and not corrected and can_correct(batch, verdict.judgement),
        "can_write_off": latest and trial.spoilt_sticks < batch.sticks_a_hoop,
        "again": latest and not good,
        "gap": say(verdict.judgement.gap_after or 0.0, request.organisation.unit_system),
    }
    return render(request, "hoops/batches/attempt.html", context)


def _press(request: HttpRequest, batch: HoopBatch, act: Callable[[], Any], done: Callable[[], str]) -> HttpResponse:
    """A button that does one thing; a refusal is said on the batch's page."""
    try:
        act()
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
    else:
        messages.success(request, done())
    return redirect(batch)


@require_POST
def accept(request: HttpRequest, number: int, attempt: int) -> HttpResponse:
    batch = _batch(request, number)
    trial = _trial(batch, attempt)
    given = {"organisation": request.organisation, "user": request.user, "batch": batch, "trial": trial}
    return _press(
        request,
        batch,
        lambda: services.accept_trial(**given),
        lambda: f"Trial hoop {trial.attempt} is accepted. {batch} is proven and the rest may be bent.",
    )


@require_POST
def correct(request: HttpRequest, number: int, attempt: int) -> HttpResponse:
    batch = _batch(request, number)
    trial = _trial(batch, attempt)
    given = {"organisation": request.organisation, "user": request.user, "batch": batch, "trial": trial}
    return _press(
        request,
        batch,
        lambda: services.correct(**given),
        lambda: f"{batch} has the corrected stop gap. Bend another trial hoop with it and measure that.",
    )


def bent(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = _batch(request, number), request.organisation
    left = batch.quantity - batch.hoops_bent
    enough = unbent_sticks(batch=batch) // batch.sticks_a_hoop
    first = min(left, enough) or ""
    return _form_page(
        request,
        batch,
        BentForm(request.POST or None, organisation=organisation, initial={"hoops": first}),
        lambda data: services.record_bent(organisation=organisation, user=request.user, batch=batch, **data),
        template="bent",
        done=lambda row: f"{so_many(row.hoops, 'hoop')} more {'is' if row.hoops == 1 else 'are'} recorded.",
        left=left,
        enough=enough,
    )


def finish(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = _batch(request, number), request.organisation
    if batch.state == HoopBatch.State.DONE:
        raise Http404
    # A press without a tick sends nothing but the token, which still has to count as sent.
    form = FinishForm(request.POST if request.method == "POST" else None, organisation=organisation)
    left = batch.quantity - batch.hoops_bent
    if not left:
        del form.fields["short"]
    return _form_page(
        request,
        batch,
        form,
        lambda data: services.finish(organisation=organisation, user=request.user, batch=batch, **data),
        template="finish",
        done=lambda row: f"{row} is done.",
        left=left,
    )
