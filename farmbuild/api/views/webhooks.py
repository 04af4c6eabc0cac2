"""Pages of addresses that are told of changes, for owners."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.api import presenters, showing
from farmbuild.api.forms import WebhookForm, WebhookTokenForm
from farmbuild.api.models import Webhook
from farmbuild.api.tables import AttemptTable, WebhookTable
from farmbuild.api.tasks import wake_one
from farmbuild.api.webhooks import selectors, services
from farmbuild.api.webhooks.hosts import hosts_in_words
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import ROWS, actor_kwargs, run_action, save_form
from farmbuild.common.paging import paged


@require_GET
def show_all(request: HttpRequest) -> HttpResponse:
    ended = request.GET.get("ended") == "1"
    rows = selectors.webhooks_of(organisation=request.organisation, ended=ended)
    table = WebhookTable(rows, organisation=request.organisation)
    paged(request, table, rows=ROWS)
    stopped = selectors.stopped_webhooks(organisation=request.organisation).count()
    context = {"table": table, "ended": ended, "count": table.paginator.count, "stopped": stopped}
    return render(request, "api/webhooks/list.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    form = WebhookForm(request.POST or None, organisation=request.organisation)
    if request.method == "POST" and form.is_valid():
        try:
            shown = services.add_webhook(**actor_kwargs(request), **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            return _with_secret(shown)
    return render(request, "api/webhooks/new.html", {"form": form, "hosts": hosts_in_words()})


def _with_secret(shown: services.Shown) -> HttpResponse:
    path = reverse("api:webhook", args=[shown.webhook.pk])
    return showing.carry(redirect(path), shown.secret, name=_cookie(shown.webhook), path=path)


def _cookie(webhook: Webhook) -> str:
    return f"webhook-{webhook.pk}"


def _webhook(request: HttpRequest, pk: int) -> Webhook:
    return get_object_or_404(selectors.webhooks_of(organisation=request.organisation, ended=True), pk=pk)


@never_cache
@require_GET
def show(request: HttpRequest, pk: int) -> HttpResponse:
    webhook = _webhook(request, pk)
    table = AttemptTable(selectors.attempts_of(webhook=webhook), organisation=request.organisation)
    paged(request, table, rows=ROWS)
    context = {
        "webhook": webhook,
        "secret": showing.carried(request, name=_cookie(webhook)),
        "table": table,
        "count": table.paginator.count,
        **presenters.standing(webhook),
    }
    return render(request, "api/webhooks/webhook.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def token(request: HttpRequest, pk: int) -> HttpResponse:
    webhook = _webhook(request, pk)
    given = {"token": webhook.token_id}
    form = WebhookTokenForm(request.POST or None, organisation=request.organisation, initial=given)
    saved = save_form(
        request,
        form,
        lambda values: services.change_token(**actor_kwargs(request), webhook=webhook, **values),
        message=gettext("It has another token."),
        redirect_to=reverse("api:webhook", args=[pk]),
    )
    return saved or render(request, "api/webhooks/token.html", {"form": form, "webhook": webhook})


@require_POST
def secret(request: HttpRequest, pk: int) -> HttpResponse:
    webhook = _webhook(request, pk)
    try:
        return _with_secret(services.change_secret(**actor_kwargs(request), webhook=webhook))
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("api:webhook", pk)


@require_POST
def trial(request: HttpRequest, pk: int) -> HttpResponse:
    webhook = _webhook(request, pk)
    return run_action(
        request,
        lambda: services.ask_for_trial(**actor_kwargs(request), webhook=webhook, wake=wake_one),
        message=gettext("A trial is on its way. Its answer stands below in a moment."),
        redirect_to=reverse("api:webhook", args=[pk]),
    )


@require_POST
def stop(request: HttpRequest, pk: int) -> HttpResponse:
    webhook = _webhook(request, pk)
    return run_action(
        request,
        lambda: services.stop_webhook(**actor_kwargs(request), webhook=webhook),
        message=gettext("It is told nothing until you start it again."),
        redirect_to=reverse("api:webhook", args=[pk]),
    )


@require_POST
def start(request: HttpRequest, pk: int) -> HttpResponse:
    webhook = _webhook(request, pk)
    return run_action(
        request,
        lambda: services.start_again(**actor_kwargs(request), webhook=webhook, wake=wake_one),
        message=gettext("It is told again, from where it stopped."),
        redirect_to=reverse("api:webhook", args=[pk]),
    )


@require_POST
def end(request: HttpRequest, pk: int) -> HttpResponse:
    webhook = _webhook(request, pk)
    return run_action(
        request,
        lambda: services.end_webhook(**actor_kwargs(request), webhook=webhook),
        message=gettext("It is told nothing more."),
        redirect_to="api:webhooks",
    )
