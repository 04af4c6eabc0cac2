"""Reads of pipe between members: what is out, who owes what to whom, both ways and net."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, Q, QuerySet, Sum
from django.db.models.functions import Coalesce

from farmbuild.catalogue.models import Material
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.crew.models import Member
from farmbuild.orgs.models import Organisation


def pipe_of(*, organisation: Organisation) -> QuerySet[PipeLoan]:
    """All that was told, the last first, with ``settled`` pieces and those ``out``."""
    settled = Sum("returns__quantity", filter=Q(returns__back_at=None, returns__agreed_at__isnull=False))
    rows = PipeLoan.objects.of(organisation).annotate(settled=Coalesce(settled, 0))
    rows = rows.annotate(out=F("quantity") - F("settled"))
    return rows.select_related("lender", "borrower", "material", "lot").order_by("-day", "-pk")


def pipe_of_member(*, member: Member) -> QuerySet[PipeLoan]:
    """Its own side alone: what it lends and what it borrows."""
    return pipe_of(organisation=member.organisation).filter(Q(lender=member) | Q(borrower=member))


def returns_of(*, loan: PipeLoan) -> QuerySet[PipeReturn]:
    return PipeReturn.objects.filter(loan=loan).select_related("asked_of", "agreed_by").order_by("pk")


@dataclass(frozen=True)
class Owed:
    """Equal pieces that ``borrower`` owes ``lender`` more than the other way round; ``there`` and ``back`` are each
    way."""

    borrower: Member
    lender: Member
    material: Material
    length: Decimal | None
    there: int
    back: int

    @property
    def net(self) -> int:
        return self.there - self.back


def owed_of(loans: Iterable[PipeLoan]) -> list[Owed]:
    """By pair, material and length, of loans with ``out``; what is level both ways is left out where nothing is out."""
    sums: dict[tuple[int, int, int, Decimal | None], int] = {}
    members: dict[int, Member] = {}
    materials: dict[int, Material] = {}
    for loan in loans:
        if loan.kind != PipeLoan.Kind.LENT or loan.agreed_at is None or loan.back_at or loan.out <= 0:
            continue
        key = (loan.borrower_id, loan.lender_id, loan.material_id, loan.length)
        sums[key] = sums.get(key, 0) + loan.out
        members |= {loan.borrower_id: loan.borrower, loan.lender_id: loan.lender}
        materials[loan.material_id] = loan.material
    rows = []
    for (borrower, lender, material, length), there in sums.items():
        back = sums.get((lender, borrower, material, length), 0)
        if there > back or (there == back and borrower < lender):
            rows.append(Owed(members[borrower], members[lender], materials[material], length, there, back))
    return sorted(
        rows, key=lambda row: (row.borrower.name, row.lender.name, row.material.name, row.length or Decimal(0))
    )
