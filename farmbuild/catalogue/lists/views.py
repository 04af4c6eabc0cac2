"""Pages of a supplier's list: send it, see what was understood and what changes, take it over."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.exceptions import ValidationError
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils.http import content_disposition_header
from django.utils.translation import gettext

from farmbuild.catalogue.lists import export, services, shown, understood
from farmbuild.catalogue.lists.forms import ReadForm, SendForm, choices_of
from farmbuild.catalogue.lists.rows import LEFT, NO_PRICE, UNKNOWN, WRONG
from farmbuild.catalogue.lists.selectors import lists_of, materials_to_choose, recent_lists
from farmbuild.catalogue.lists.settings import columns_of
from farmbuild.catalogue.models import PriceList, Supplier
from farmbuild.catalogue.views.suppliers import supplier_or_404
from farmbuild.orgs.clock import today_of
from farmbuild.workbooks.packages import WorkbookError
from farmbuild.workbooks.services import XLSX
from farmbuild.workbooks.sheets import widest

ROWS, CHANGES = 40, 60


def send(request: HttpRequest, code: str) -> HttpResponse:
    supplier = supplier_or_404(request, code)
    sent = (request.POST, request.FILES) if request.method == "POST" else ()
    form = SendForm(*sent, organisation=request.organisation)
    if form.is_valid():
        file = form.cleaned_data["file"]
        try:
            made = services.make_list(
                organisation=request.organisation,
                user=request.user,
                supplier=supplier,
                data=file.read() if file else form.cleaned_data["rows"].encode(),
                filename=file.name if file else services.PASTED,
            )
        except WorkbookError as error:
            form.add_error("file" if file else "rows", str(error))
        else:
            return redirect("catalogue:list", supplier.code, made.pk)
    context = {"supplier": supplier, "form": form, "lists": recent_lists(supplier=supplier)}
    return render(request, "catalogue/lists/send.html", context)


def show(request: HttpRequest, code: str, pk: int) -> HttpResponse:
    """One form: how it is read, what rows are, and taking it over; what is taken over is what was shown."""
    supplier = supplier_or_404(request, code)
    price_list = get_object_or_404(lists_of(supplier=supplier), pk=pk)
    price_list.supplier = supplier
    if price_list.taken_at:
        return _taken(request, supplier, price_list)
    rows = price_list.sheets[price_list.said.get("sheet", 0)]["rows"]
    columns = columns_of(price_list)
    form = ReadForm(
        request.POST or None,
        organisation=request.organisation,
        price_list=price_list,
        columns=columns,
        width=widest(rows),
    )
    materials = materials_to_choose(organisation=request.organisation)
    problems: list[str] = []
    if request.method == "POST":
        chosen, problems = choices_of(request.POST, {row.code for row in materials}, {number for number, _ in rows})
        if form.is_valid() and not problems:
            answer, problems = _act(request, supplier, price_list, form, chosen)
            if answer:
                return answer
        price_list.choices = price_list.choices | chosen
    return render(
        request, "catalogue/lists/list.html", _context(request, supplier, price_list, form, materials, problems)
    )


def _act(
    request: HttpRequest, supplier: Supplier, price_list: PriceList, form: ReadForm, chosen: dict[str, str]
) -> tuple[HttpResponse | None, list[str]]:
    """Where to go next, or what keeps it from being done."""
    who = {"organisation": request.organisation, "user": request.user}
    here = reverse("catalogue:list", args=[supplier.code, price_list.pk])
    settings, take = form.settings(), request.POST.get("do") == "take"
    said_else = {row: value for row, value in chosen.items() if value != price_list.choices.get(row, "")}
    try:
        if said_else or services.differs(price_list, settings):
            services.set_list(**who, price_list=price_list, settings=settings, choices=chosen)
            if take:
                messages.info(
                    request, gettext("What you changed is read now. Look at what follows, then take it over.")
                )
            return redirect(here), []
        if not take:
            return redirect(here), []
        changes = services.take_list(
            **who,
            price_list=price_list,
            seen=request.POST.get("seen", ""),
            today=today_of(organisation=request.organisation),
            end={"end": True, "stay": False}.get(request.POST.get("gone", "")),
            sure=request.POST.get("sure") == "yes",
        )
    except ValidationError as error:
        return None, error.messages
    messages.success(request, services.said_of(changes, supplier))
    return redirect(here), []


def _context(
    request: HttpRequest,
    supplier: Supplier,
    price_list: PriceList,
    form: ReadForm,
    materials: list[Any],
    problems: list[str],
) -> dict[str, Any]:
    organisation = request.organisation
    found = understood.understand(
        organisation=organisation, price_list=price_list, today=today_of(organisation=organisation)
    )
    asks = found.of(WRONG, UNKNOWN)
    every = request.GET.get("rows") == "all" or not asks
    page = Paginator(found.rows if every else asks, ROWS).get_page(request.GET.get("page"))
    changes = Paginator([row for row in found.changes if row.kind != "same"], CHANGES).get_page(
        request.GET.get("changes")
    )
    rows = price_list.sheets[price_list.said.get("sheet", 0)]["rows"]
    return {
        "supplier": supplier,
        "list": price_list,
        "form": form,
        "problems": problems,
        "found": found,
        "answer": shown.answer(found),
        "asks": len(asks),
        "every": every,
        "every_asked": "page" in request.GET or request.GET.get("rows") == "all",
        "page": page,
        "rows": [shown.shown_row(row, found.columns, organisation, price_list.choices) for row in page],
        "materials": materials,
        "changes": changes,
        "changed": [shown.change_row(row, organisation, end=None) for row in changes],
        "same": len(found.kind("same")),
        "left": len(found.of(LEFT)),
        "no_price": [row.number for row in found.of(NO_PRICE)][:20],
        "seen": shown.fingerprint(found),
        "unsaid": understood.without_lead(found),
        "columns": [
            (field, found.columns.heads.get(at, ""), shown.samples(rows, found.columns.head, at))
            for at, field in enumerate(form.column_fields())
        ],
    }


def _taken(request: HttpRequest, supplier: Supplier, price_list: PriceList) -> HttpResponse:
    """Sent again it says what it did; nothing is done twice."""
    page = Paginator(price_list.changes, CHANGES).get_page(request.GET.get("changes"))
    context = {
        "supplier": supplier,
        "list": price_list,
        "answer": shown.taken_answer(price_list.changes),
        "changes": page,
        "changed": list(page),
    }
    return render(request, "catalogue/lists/taken.html", context)


def xlsx(request: HttpRequest, code: str) -> HttpResponse:
    return _file(request, code, export.xlsx, XLSX, "xlsx")


def csv_text(request: HttpRequest, code: str) -> HttpResponse:
    return _file(request, code, export.csv_text, "text/csv; charset=utf-8", "csv")


def _file(request: HttpRequest, code: str, make: Callable[..., bytes], kind: str, ending: str) -> HttpResponse:
    """With ?every=1 materials that the supplier does not offer are in it, to be filled in."""
    supplier = supplier_or_404(request, code)
    organisation = request.organisation
    data = make(
        organisation=organisation,
        supplier=supplier,
        today=today_of(organisation=organisation),
        every=request.GET.get("every") == "1",
    )
    name = f"prices-{supplier.code}.{ending}"
    return HttpResponse(
        data, content_type=kind, headers={"Content-Disposition": content_disposition_header(True, name)}
    )
