"""What pages share: a list, a form whose service may still refuse, and a button alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import QuerySet
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect

from farmbuild.common.edit_conflicts import refuse_if_changed
from farmbuild.common.form_parts import add_service_errors
from farmbuild.common.paging import PagedTables

ROWS = 25


def actor_kwargs(request: HttpRequest) -> dict[str, Any]:
    """Who does it, for a service."""
    return {"organisation": request.organisation, "user": request.user}


def parse_day(text: str) -> date | None:
    """A day of an address, such as 2027-05-12, from 2000 to 2100; None for anything else."""
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if 2000 <= found.year <= 2100 else None


def get_object_or_none(rows: QuerySet, **named: Any) -> Any:
    """The row that an address or a form names, by slug or key; None where it names none of them."""
    return rows.filter(**named).first() if all(named.values()) else None


def first_rows(rows: Sequence[Any] | QuerySet, most: int) -> tuple[list[Any], bool]:
    """The first ``most`` rows, and whether there are more; one query."""
    found = list(rows[: most + 1])
    return found[:most], len(found) > most


class OrgList(PagedTables):
    """``rows``: the selector. With ``archives`` the page has two lists: in use, and archived."""

    rows: Callable[..., Any]
    archives = False

    def get_queryset(self):
        rows = type(self).rows(organisation=self.request.organisation)
        self.archived = self.archives and self.request.GET.get("archived") == "1"
        if self.archives:
            rows = rows.exclude(archived_at=None) if self.archived else rows.filter(archived_at=None)
        return rows

    def get_table_kwargs(self):
        return {"organisation": self.request.organisation}

    def get_context_data(self, **kwargs):
        context = super().get_context_data(**kwargs)
        return context | {"archived": self.archived, "count": context["table"].paginator.count}


def save_form(
    request: HttpRequest,
    form: BaseForm,
    save: Callable[[dict[str, Any]], Any],
    *,
    message: str,
    redirect_to: Any = None,
) -> HttpResponse | None:
    """Where to go once the form is saved; None while it has to be shown. ``message``: with {} for what was stored."""
    if request.method != "POST" or not form.is_valid():
        return None
    try:
        with transaction.atomic():
            refuse_if_changed(form)
            row = save(form.cleaned_data)
    except ValidationError as error:
        add_service_errors(form, error)
        return None
    messages.success(request, message.format(row))
    return redirect(redirect_to or row)


def run_action(
    request: HttpRequest, action: Callable[[], Any], *, message: str, redirect_to: Any, refused_redirect_to: Any = None
) -> HttpResponse:
    """For a button alone: does it and says so, or says why not."""
    try:
        action()
    except ValidationError as error:
        for words in error.messages:
            messages.error(request, words)
        return redirect(refused_redirect_to or redirect_to)
    messages.success(request, message)
    return redirect(redirect_to)
