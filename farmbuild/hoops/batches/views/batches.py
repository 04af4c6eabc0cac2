"""Pages of hoop batches."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django import forms
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext, ngettext

from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import save_form
from farmbuild.common.paging import PagedTables, paged
from farmbuild.common.speaking import said_count
from farmbuild.hoops.batches import services
from farmbuild.hoops.batches.drawings import wanted_hoop
from farmbuild.hoops.batches.forms import (
    SPOILT,
    BatchForm,
    BentForm,
    FinishForm,
    TakeBackForm,
    ToleranceForm,
)
from farmbuild.hoops.batches.models import HoopBatch, TrialHoop
from farmbuild.hoops.batches.new_batch import batch_warnings_of, first_bent, first_values, houses_for, warnings_of
from farmbuild.hoops.batches.outdated import changes_of, outdated_batches
from farmbuild.hoops.batches.presenters import target_figures
from farmbuild.hoops.batches.selectors import (
    attempts_needed,
    batches_in_trial,
    batches_of,
    bent_of,
    hoops_in_hand,
    shares_of,
    spoilt_of,
    sticks_by_lot,
    trials_of,
    unbent_sticks,
)
from farmbuild.hoops.batches.tables import (
    AttemptsTable,
    BatchTable,
    BentTable,
    ShareTable,
    SpoiltTable,
    SticksTable,
    TrialTable,
)
from farmbuild.hoops.batches.words import outside_words, status_of
from farmbuild.hoops.benders.selectors import benders_of
from farmbuild.hoops.benders.signals import findings_about
from farmbuild.hoops.recipes.bridge import recipe_problems
from farmbuild.hoops.recipes.selectors import any_recipe_of, recipes_of
from farmbuild.hoops.recipes.words import end_words
from farmbuild.orgs.acts import Act, may
from farmbuild.sites.lookup import house_or_404
from farmbuild.sites.phases import phases_of

ROWS = 25


def batch_or_404(request: HttpRequest, number: int) -> HoopBatch:
    return get_object_or_404(batches_of(organisation=request.organisation), number=number)


def trial_or_404(batch: HoopBatch, attempt: int) -> TrialHoop:
    return get_object_or_404(trials_of(batch=batch), attempt=attempt)


class BatchList(PagedTables):
    table_class = BatchTable
    template_name = "hoops/batches/list.html"

    def get_queryset(self):
        return batches_of(organisation=self.request.organisation)

    def get_table_kwargs(self):
        return {"organisation": self.request.organisation}

    def get_context_data(self, **kwargs):
        context = super().get_context_data(**kwargs)
        organisation = self.request.organisation
        table = context["table"]
        table.outdated = outdated_batches(batches=[row.record.pk for row in table.paginated_rows])
        needed = attempts_needed(organisation=organisation)
        return context | {
            "count": context["table"].paginator.count,
            "in_trial": batches_in_trial(organisation=organisation).count(),
            "attempts": AttemptsTable(needed, organisation=organisation) if needed else None,
        }


def create(request: HttpRequest) -> HttpResponse:
    """A batch of one recipe: ``?house=`` a house with its recipe, hoops and post span, or ``?recipe=``."""
    organisation, house, recipe = request.organisation, None, None
    if slug := request.GET.get("house"):
        house = house_or_404(organisation=organisation, slug=slug)
        recipe = house.recipe
    elif slug := request.GET.get("recipe"):
        recipe = get_object_or_404(any_recipe_of(organisation=organisation), slug=slug)
    if recipe is None:
        recipes = list(recipes_of(organisation=organisation))
        if len(recipes) != 1:
            return render(request, "hoops/batches/choose.html", {"recipes": recipes})
        return redirect(f"{request.path}?recipe={recipes[0].slug}")
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
            form.add_error("go_on", gettext("Read the warnings. Correct the figures, or tick this."))
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
                add_service_errors(form, error)
            else:
                messages.success(
                    request,
                    gettext("%(batch)s is made: %(quantity)s of %(recipe)s.")
                    % {"batch": batch, "quantity": said_count(batch.quantity, "hoop"), "recipe": recipe.name},
                )
                return redirect(batch)
    elif not form.is_bound:
        warnings = batch_warnings_of(recipe, first)
    context = {"form": form, "recipe": recipe, "house": house, "warnings": warnings}
    return render(request, "hoops/batches/form.html", context)


def show(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    spoilt = spoilt_of(batch=batch)
    context = {
        "batch": batch,
        "status": status_of(batch),
        "changes": changes_of(batch=batch),
        "plans": may(organisation=organisation, user=request.user, act=Act.PLAN),
        "outside": outside_words(batch, batch.accepted_trial) if batch.accepted_trial else "",
        "hoop": wanted_hoop(batch),
        "end": end_words(batch.recipe.tube.swaged),
        "figures": target_figures(batch),
        "shares": ShareTable(shares_of(batch=batch), organisation=organisation),
        "sticks": SticksTable(sticks_by_lot(batch=batch), organisation=organisation),
        "unbent": unbent_sticks(batch=batch),
        "trials": TrialTable(trials_of(batch=batch), organisation=organisation),
        "bent": BentTable(bent_of(batch=batch), organisation=organisation),
        "spoilt": SpoiltTable(spoilt, organisation=organisation) if batch.sticks_spoilt else None,
        "warnings": warnings_of(batch),
        "findings": [] if batch.state == HoopBatch.State.DONE else findings_about(bender=batch.bender),
    }
    houses = [share.house_id for share in context["shares"].data]
    context["shares"].phases = phases_of(organisation=organisation, houses=houses)
    for name in ("shares", "sticks", "trials", "bent"):
        paged(request, context[name], rows=None)
    return render(request, "hoops/batches/batch.html", context)


def tolerance(request: HttpRequest, number: int) -> HttpResponse:
    batch = batch_or_404(request, number)
    form = ToleranceForm(request.POST or None, instance=batch, organisation=request.organisation)
    answer = save_form(
        request,
        form,
        lambda data: services.set_tolerances(
            organisation=request.organisation, user=request.user, batch=batch, data=data
        ),
        message=gettext("The tolerance of {} is kept, and its trial hoops are judged by it."),
    )
    return answer or render(request, "hoops/batches/tolerance.html", {"batch": batch, "form": form})


def save_page(
    request: HttpRequest,
    batch: HoopBatch,
    form: forms.Form,
    action: Callable[[dict[str, Any]], Any],
    *,
    template: str,
    message: Callable[[Any], str],
    redirect_to: Callable[[Any], Any] | None = None,
    **context: Any,
) -> HttpResponse:
    """A form that does one thing to a batch; errors of the service land at its fields."""
    if form.is_valid():
        try:
            made = action(dict(form.cleaned_data))
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            messages.success(request, message(made))
            return redirect(redirect_to(made) if redirect_to else batch)
    return render(request, f"hoops/batches/{template}.html", {"batch": batch, "form": form} | context)


def bent(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    enough = hoops_in_hand(batch=batch)
    return save_page(
        request,
        batch,
        BentForm(request.POST or None, organisation=organisation, initial=first_bent(batch, enough)),
        lambda data: services.record_bent(organisation=organisation, user=request.user, batch=batch, **data),
        template="bent",
        message=lambda row: (
            ngettext("%(hoops)s more is recorded.", "%(hoops)s more are recorded.", row.hoops)
            % {"hoops": said_count(row.hoops, "hoop")}
        ),
        left=batch.hoops_left,
        enough=enough,
    )


def take_back(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    return save_page(
        request,
        batch,
        TakeBackForm(request.POST or None, organisation=organisation),
        lambda data: services.take_back_hoops(
            organisation=organisation,
            user=request.user,
            batch=batch,
            hoops=data["hoops"],
            reason=data["reason"],
            spoilt=data["what"] == SPOILT,
        ),
        template="take_back",
        message=lambda row: (
            ngettext("%(hoops)s less is bent.", "%(hoops)s less are bent.", -row.hoops)
            % {"hoops": said_count(-row.hoops, "hoop")}
        ),
    )


def finish(request: HttpRequest, number: int) -> HttpResponse:
    batch, organisation = batch_or_404(request, number), request.organisation
    if batch.state == HoopBatch.State.DONE:
        raise Http404
    # A press without a tick sends nothing but the token, which still has to count as sent.
    form = FinishForm(request.POST if request.method == "POST" else None, organisation=organisation)
    if not batch.hoops_left:
        del form.fields["short"]
    return save_page(
        request,
        batch,
        form,
        lambda data: services.finish_batch(organisation=organisation, user=request.user, batch=batch, **data),
        template="finish",
        message=lambda row: gettext("%(row)s is done.") % {"row": row},
        left=batch.hoops_left,
    )
