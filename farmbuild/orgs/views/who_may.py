"""The page that says who may do what."""

import django_tables2 as tables
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext_lazy as _
from django.utils.translation import pgettext_lazy
from django.views.decorators.http import require_safe

from farmbuild.common.tables import FarmTable
from farmbuild.orgs.who_may import who_may_what


class WhoMayTable(FarmTable):
    phone = (("act",), ("people", "sets"))
    phone_words = {"people": _("Here:"), "sets": _("Sets:")}

    act = tables.Column(pgettext_lazy("allowed to", "May"))
    sets = tables.Column(_("Ready sets"))
    people = tables.Column(_("Who may here"))

    class Meta:
        orderable = False


@require_safe
def who_may(request: HttpRequest) -> HttpResponse:
    table = WhoMayTable(who_may_what(organisation=request.organisation), organisation=request.organisation)
    return render(request, "orgs/who_may.html", {"table": table, "membership": getattr(request, "membership", None)})
