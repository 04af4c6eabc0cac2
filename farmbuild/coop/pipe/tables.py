"""Tables of pipe between members."""

from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from farmbuild.common.tables import DayColumn, FarmTable, MoneyColumn, QuantityColumn
from farmbuild.coop.models import PipeLoan
from farmbuild.coop.pipe.words import item_of, state_words
from farmbuild.crew.models import Member
from farmbuild.orgs.clock import today_of


class _RowTable(FarmTable):
    """Of rows worked out, each with its address or without."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, orderable=False, **kwargs)

    def row_link(self, record: dict[str, Any]) -> str | None:
        return record.get("url")


class OwedTable(_RowTable):
    """Who owes whom equal pieces, each way in a line of its own."""

    phone = (("borrower", "pieces"), ("lender", "what"))
    phone_words = {"lender": _("to"), "pieces": "", "net": _("less the other way")}
    phone_quiet = ("net",)

    borrower = tables.Column(_("Owes"))
    lender = tables.Column(_("To"))
    what = tables.Column(_("What"))
    pieces = QuantityColumn(verbose_name=_("Pieces"))
    net = QuantityColumn(verbose_name=_("Less the other way"))


class MoneyTable(_RowTable):
    phone = (("borrower", "amount"), ("lender",))
    phone_words = {"lender": _("to"), "amount": ""}

    borrower = tables.Column(_("Owes"))
    lender = tables.Column(_("To"))
    amount = MoneyColumn(verbose_name=_("Amount"), total=True)


class _LoanTable(FarmTable):
    """Rows are those of ``selectors.pipe_of``."""

    what = tables.Column(_("What"), accessor="material", orderable=False)
    day = DayColumn(verbose_name=_("Day"), orderable=False)
    quantity = QuantityColumn(verbose_name=_("Pieces"), orderable=False)
    owed = QuantityColumn(verbose_name=_("Still owed"), orderable=False)
    state = tables.Column(_("State"), accessor="pk", orderable=False)

    def render_what(self, record: PipeLoan) -> str:
        return item_of(record)

    def render_state(self, record: PipeLoan) -> str:
        return state_words(record, today_of(organisation=self.organisation))


class PipeTable(_LoanTable):
    """All that was told."""

    phone = (("what", "quantity"), ("state", "borrower"))
    phone_words = {"borrower": _("to"), "quantity": "", "state": ""}

    lender = tables.Column(_("From"), accessor="lender__name", orderable=False)
    borrower = tables.Column(_("To"), accessor="borrower__name", orderable=False)

    class Meta(FarmTable.Meta):
        sequence = ("what", "lender", "borrower", "day", "quantity", "owed", "state")

    def row_link(self, record: PipeLoan) -> str:
        return reverse("coop:pipe", args=[record.pk])


class OwnPipeTable(_LoanTable):
    """As a member sees them."""

    phone = (("what", "quantity"), ("state", "other"))
    phone_words = {"other": "", "quantity": "", "state": ""}

    other = tables.Column(_("With"), accessor="borrower", orderable=False)

    class Meta(FarmTable.Meta):
        sequence = ("what", "other", "day", "quantity", "owed", "state")

    def __init__(self, *args: Any, member: Member, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.member = member

    def row_link(self, record: PipeLoan) -> str:
        return reverse("coop:seen-pipe", args=[self.member.organisation.slug, record.pk])

    def render_other(self, record: PipeLoan) -> str:
        if record.lender_id == self.member.pk:
            return gettext("to %(who)s") % {"who": record.borrower}
        return gettext("from %(who)s") % {"who": record.lender}


class OwnLotTable(_RowTable):
    phone = (("what", "quantity"), ("place", "leave"))
    phone_words = {"place": "", "leave": "", "quantity": ""}

    what = tables.Column(_("What"))
    lot = tables.Column(_("Lot"))
    place = tables.Column(_("Where it lies"))
    quantity = QuantityColumn(verbose_name=_("Pieces"))
    leave = tables.Column(_("Leave given"))
