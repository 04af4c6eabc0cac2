"""Pages of tokens, for whoever plans: their own; all of them for whoever says who may do what."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.translation import gettext
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from farmbuild.api import showing, tokens
from farmbuild.api.forms import TokenForm
from farmbuild.api.models import Token
from farmbuild.api.scopes import scope_words
from farmbuild.api.tables import TokenTable
from farmbuild.api.webhooks.selectors import stopped_webhooks
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.pages import ROWS, actor_kwargs, run_action
from farmbuild.common.paging import paged


@require_GET
def show_all(request: HttpRequest) -> HttpResponse:
    over = request.GET.get("over") == "1"
    rows = (tokens.tokens_of if over else tokens.open_tokens_of)(**actor_kwargs(request))
    table = TokenTable(rows, organisation=request.organisation)
    paged(request, table, rows=ROWS)
    stopped = stopped_webhooks(organisation=request.organisation).count()
    context = {"table": table, "over": over, "count": table.paginator.count, "stopped": stopped}
    return render(request, "api/tokens.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
def new(request: HttpRequest) -> HttpResponse:
    form = TokenForm(request.POST or None, organisation=request.organisation, acts=request.acts)
    if request.method == "POST" and form.is_valid():
        try:
            shown = tokens.make_token(**actor_kwargs(request), **form.cleaned_data)
        except ValidationError as error:
            add_service_errors(form, error)
        else:
            path = reverse("api:token", args=[shown.token.pk])
            return showing.carry(redirect(path), shown.secret, name=_cookie(shown.token), path=path)
    return render(request, "api/token_new.html", {"form": form})


def _cookie(token: Token) -> str:
    return f"token-{token.pk}"


def _token(request: HttpRequest, pk: int) -> Token:
    return get_object_or_404(tokens.tokens_of(**actor_kwargs(request)), pk=pk)


@never_cache
@require_GET
def show(request: HttpRequest, pk: int) -> HttpResponse:
    token = _token(request, pk)
    secret = showing.carried(request, name=_cookie(token))
    context = {"token": token, "secret": secret, "words": scope_words(token.scopes)}
    return render(request, "api/token.html", context)


@require_POST
def end(request: HttpRequest, pk: int) -> HttpResponse:
    token = _token(request, pk)
    return run_action(
        request,
        lambda: tokens.end_token(**actor_kwargs(request), token=token),
        message=gettext("%(token)s is let in no more.") % {"token": token.name},
        redirect_to="api:tokens",
    )
