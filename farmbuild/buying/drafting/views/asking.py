"""What pages of drafts share: one that is no draft any more, and a change that houses have to hear of first."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.db import transaction
from django.forms import BaseForm
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.utils.translation import gettext

from farmbuild.buying.drafting.cover import CoverChanges
from farmbuild.buying.drafting.store import lock_draft
from farmbuild.buying.models import PurchaseOrder
from farmbuild.common.pages import save_form


def draft_or_redirect(request: HttpRequest, order: PurchaseOrder) -> HttpResponse | None:
    """Where to go instead when the order is no draft; a form that is sent holds the draft from here on."""
    try:
        if request.method == "POST":
            lock_draft(organisation=request.organisation, order=order)
            order.refresh_from_db(fields=["state"])
        elif order.state != PurchaseOrder.State.DRAFT:
            raise ValidationError(
                gettext("Order %(order_number)s is %(lower)s, so it stays as it is.")
                % {"order_number": order.number, "lower": order.get_state_display().lower()}
            )
    except ValidationError as error:
        for words in error.messages:
            messages.error(request, words)
        return redirect(order)
    return None


def save_agreed(
    request: HttpRequest,
    form: BaseForm,
    save: Callable[[dict[str, Any]], Any],
    *,
    message: str,
    order: PurchaseOrder,
) -> tuple[HttpResponse | None, tuple[str, ...]]:
    """As ``save_form``; also what to tell before it is saved, and the form then carries the yes to just that."""
    asked: list[CoverChanges] = []

    def save_or_ask(data: dict[str, Any]) -> Any:
        try:
            with transaction.atomic():
                return save(data)
        except CoverChanges as error:
            asked.append(error)
            raise

    done = save_form(request, form, save_or_ask, message=message, redirect_to=order)
    if not asked:
        return done, ()
    form.data = form.data.copy()
    form.data["agreed"] = asked[0].agreed
    return None, asked[0].effects
