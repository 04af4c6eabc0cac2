"""Pages that read a supplier's reply: send the sheet, look at what differs, take it over."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext, gettext_lazy
from django.views.decorators.http import require_POST

from farmbuild.buying import replying
from farmbuild.buying.forms import ReplyForm
from farmbuild.buying.lookup import order_or_404
from farmbuild.buying.models import Reply
from farmbuild.buying.selectors import replies_of
from farmbuild.measure import count_noun
from farmbuild.workbooks.packages import WorkbookError

ROWS = 100
WORDS = {
    replying.SAME: gettext_lazy("As ordered"),
    replying.DIFFERS: gettext_lazy("Differs"),
    replying.BAD: gettext_lazy("Cannot be read"),
    replying.MISSING: gettext_lazy("Left out"),
    replying.ADDED: gettext_lazy("Not on the order"),
}


def upload(request: HttpRequest, number: str) -> HttpResponse:
    order = order_or_404(request, number)
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = ReplyForm(*sent, organisation=request.organisation)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            reply = replying.make_reply(
                organisation=request.organisation,
                user=request.user,
                order=order,
                data=file.read(),
                filename=file.name,
            )
        except WorkbookError as error:
            form.add_error("file", str(error))
        else:
            return redirect("buying:reply", order.number, reply.pk)
    return render(request, "buying/reply_upload.html", {"order": order, "form": form})


def _reply(request: HttpRequest, number: str, pk: int) -> Reply:
    rows = replies_of(organisation=request.organisation)
    return get_object_or_404(rows, pk=pk, order__number=number)


def preview(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    reply = _reply(request, number, pk)
    show_all = request.GET.get("rows") == "all" or not reply.differences
    rows = [row for row in reply.rows if show_all or row["kind"] != replying.SAME]
    page = Paginator(rows, ROWS).get_page(request.GET.get("page"))
    context = {
        "reply": reply,
        "order": reply.order,
        "show_all": show_all,
        "page": page,
        "rows": [_shown(row) for row in page],
        "left_out": len([row for row in reply.rows if row["kind"] == replying.ADDED]),
    }
    return render(request, "buying/reply.html", context)


def _shown(row: dict[str, Any]) -> dict[str, Any]:
    price, quantity, day = row["ordered"] or (None, None, None)
    return row | {
        "words": WORDS[row["kind"]],
        "ordered_price": price and Decimal(price),
        "ordered_quantity": quantity,
        "need_by": day and date.fromisoformat(day),
        "price": row["price"] and Decimal(row["price"]),
        "promised": row["promised"] and date.fromisoformat(row["promised"]),
        "late": bool(day and row["promised"] and row["promised"] > day),
        "problems": list(row["problems"].items()),
    }


@require_POST
def take(request: HttpRequest, number: str, pk: int) -> HttpResponse:
    reply = _reply(request, number, pk)
    try:
        told = replying.apply_reply(
            organisation=request.organisation, user=request.user, order=reply.order, reply=reply
        )
    except ValidationError as error:
        messages.error(request, " ".join(error.messages))
        return redirect("buying:reply", number, pk)
    messages.success(
        request,
        gettext("The reply is on %(told)s of order %(number)s.") % {"told": count_noun(told, "line"), "number": number},
    )
    return redirect("buying:order", number)
