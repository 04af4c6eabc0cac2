"""Reads of pipe between members: what is out, who owes what to whom, both ways and net."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.db.models import Case, F, IntegerField, Q, QuerySet, Sum, When
from django.db.models.functions import Coalesce

from farmbuild.catalogue.models import Material
from farmbuild.coop.models import PipeLoan, PipeReturn
from farmbuild.coop.pipe.amounts import amount_given, amount_settled
from farmbuild.crew.models import Member
from farmbuild.orgs.models import Organisation
from farmbuild.stock.leave import leaves_that_stand
from farmbuild.stock.models import Leave, Lot

Kind = PipeLoan.Kind


def pipe_of(*, organisation: Organisation) -> QuerySet[PipeLoan]:
    """All that was told, the last first: pieces ``settled`` and those ``out``, ``untold`` of which no return is told,
    and ``owed``, which is None of what was given or does not count."""
    net = Q(returns__back_at=None)
    settled = Sum("returns__quantity", filter=net & Q(returns__agreed_at__isnull=False))
    told = Sum("returns__quantity", filter=net)
    rows = PipeLoan.objects.of(organisation).annotate(settled=Coalesce(settled, 0), told=Coalesce(told, 0))
    rows = rows.annotate(out=F("quantity") - F("settled"), untold=F("quantity") - F("told"))
    counts = Q(kind=Kind.LENT, back_at=None, agreed_at__isnull=False)
    rows = rows.annotate(owed=Case(When(counts, then=F("out")), default=None, output_field=IntegerField()))
    named = ("organisation", "lender", "borrower", "material", "lot", "asked_of", "by", "agreed_by", "back_by")
    return rows.select_related(*named).order_by("-day", "-pk")


def pipe_of_member(*, member: Member) -> QuerySet[PipeLoan]:
    """Its own side alone: what it lends and what it borrows."""
    return _with(pipe_of(organisation=member.organisation), member)


def pipe_shown(*, organisation: Organisation, member: Member | None) -> QuerySet[PipeLoan]:
    """As ``pipe_of``; of ``member``, both ways."""
    rows = pipe_of(organisation=organisation)
    return _with(rows, member) if member else rows


def _with(rows: QuerySet[PipeLoan], member: Member) -> QuerySet[PipeLoan]:
    return rows.filter(Q(lender=member) | Q(borrower=member))


def out_of(rows: QuerySet[PipeLoan]) -> QuerySet[PipeLoan]:
    """Loans that count and have pieces out."""
    return rows.filter(kind=Kind.LENT, back_at=None, agreed_at__isnull=False, out__gt=0)


def returns_of(*, loan: PipeLoan) -> QuerySet[PipeReturn]:
    return _returns(PipeReturn.objects.filter(loan=loan))


def every_return(*, organisation: Organisation) -> QuerySet[PipeReturn]:
    return _returns(PipeReturn.objects.of(organisation))


def returns_with(*, member: Member) -> QuerySet[PipeReturn]:
    """Of loans that it has a side of."""
    rows = every_return(organisation=member.organisation)
    return rows.filter(Q(loan__lender=member) | Q(loan__borrower=member))


def _returns(rows: QuerySet[PipeReturn]) -> QuerySet[PipeReturn]:
    named = ("asked_of", "agreed_by", "by", "back_by", "material", "movement__lot")
    loan = ("loan__lender", "loan__borrower", "loan__material", "loan__organisation", "organisation")
    return rows.select_related(*named, *loan).order_by("pk")


def waiting_for(*, member: Member) -> tuple[list[PipeLoan], list[PipeReturn]]:
    """What the member is asked whether it is so, the first told first."""
    asked = {"asked_of": member, "agreed_at": None, "back_at": None}
    loans = pipe_of_member(member=member).filter(**asked).order_by("pk")
    return list(loans), list(returns_with(member=member).filter(**asked))


def waiting_count(*, organisation: Organisation, member: Member | None = None) -> int:
    """What one told and the other has not answered yet; of ``member``, or of all."""
    told = [pipe_shown(organisation=organisation, member=member)]
    told.append(returns_with(member=member) if member else every_return(organisation=organisation))
    return sum(rows.filter(agreed_at=None, back_at=None).count() for rows in told)


def members_named(*, organisation: Organisation, name: str) -> list[Member]:
    """Those that are called so, small and capital letters alike."""
    rows = Member.objects.of(organisation).filter(archived_at=None, name__iexact=" ".join(name.split()))
    return list(rows.order_by("pk")[:2])


def dealt_with(*, member: Member) -> list[str]:
    """Names of the members that it has lent or borrowed with."""
    pairs = pipe_of_member(member=member).order_by().values_list("lender__name", "borrower__name").distinct()
    return sorted({name for pair in pairs for name in pair} - {member.name})


def own_lots(*, member: Member) -> QuerySet[Lot]:
    """All that are its own in the common yard, empty ones too."""
    rows = Lot.objects.of(member.organisation).filter(owner=member)
    return rows.select_related("material", "place", "organisation", "owner").order_by("material__name", "length", "pk")


def own_lots_there(*, member: Member) -> QuerySet[Lot]:
    return own_lots(member=member).filter(on_hand__gt=0)


def own_leaves(*, member: Member) -> QuerySet[Leave]:
    """Leave that was given of its lots and has not ended; with ``left``."""
    return leaves_that_stand(organisation=member.organisation).filter(lot__owner=member)


def lots_to_lend(*, organisation: Organisation, member: Member | None = None) -> QuerySet[Lot]:
    """With something in them: of ``member``, or of all members."""
    rows = Lot.objects.of(organisation).filter(on_hand__gt=0)
    rows = rows.filter(owner=member) if member else rows.exclude(owner=None)
    return rows.select_related("material", "owner", "organisation").order_by("owner__name", "material__name", "pk")


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
        if loan.kind != Kind.LENT or loan.agreed_at is None or loan.back_at or loan.out <= 0:
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


@dataclass(frozen=True)
class OwedMoney:
    """What pipe came to between two, in their accounts: ``borrower`` more to ``lender`` than the other way round."""

    borrower: Member
    lender: Member
    amount: Decimal


def money_of(*, organisation: Organisation, member: Member | None = None) -> list[OwedMoney]:
    """By pair, what counts; of ``member``, or of all. Pairs that come to nothing are left out."""
    loans = pipe_shown(organisation=organisation, member=member).filter(price__gt=0)
    returns = returns_with(member=member) if member else every_return(organisation=organisation)
    counts = {"back_at": None, "agreed_at__isnull": False}
    amounts = [(loan, amount_given(loan, organisation.currency)) for loan in loans.filter(**counts)]
    settled = returns.filter(price__gt=0, **counts)
    amounts += [(row.loan, amount_settled(row, organisation.currency)) for row in settled]
    sums: dict[tuple[int, int], Decimal] = {}
    members: dict[int, Member] = {}
    for loan, amount in amounts:
        members |= {loan.borrower_id: loan.borrower, loan.lender_id: loan.lender}
        low, high = sorted((loan.borrower_id, loan.lender_id))
        signed = amount if loan.borrower_id == low else -amount
        sums[low, high] = sums.get((low, high), Decimal(0)) + signed
    rows = [
        OwedMoney(members[low if amount > 0 else high], members[high if amount > 0 else low], abs(amount))
        for (low, high), amount in sums.items()
        if amount
    ]
    return sorted(rows, key=lambda row: (row.borrower.name, row.lender.name))


@dataclass(frozen=True)
class OwedPieces:
    """Of a member: equal pieces that it owes ``other``, or is owed by it."""

    other: Member
    material: Material
    length: Decimal | None
    count: int
    owes: bool


def pieces_owed_on(
    *, organisation: Organisation, day: date, members: Iterable[int] | None = None
) -> dict[int, list[OwedPieces]]:
    """By member key, what was out at the end of ``day`` by all that counts now; of ``members``, or of all."""
    net = Q(returns__back_at=None, returns__agreed_at__isnull=False, returns__day__lte=day)
    rows = PipeLoan.objects.of(organisation).net().filter(kind=Kind.LENT, agreed_at__isnull=False, day__lte=day)
    rows = rows.annotate(out=F("quantity") - Coalesce(Sum("returns__quantity", filter=net), 0)).filter(out__gt=0)
    wanted = None if members is None else set(members)
    if wanted is not None:
        rows = rows.filter(Q(lender__in=wanted) | Q(borrower__in=wanted))
    sums: dict[tuple[Member, Member, bool, Material, Decimal | None], int] = {}
    for loan in rows.select_related("lender", "borrower", "material"):
        for one, other, owes in ((loan.borrower, loan.lender, True), (loan.lender, loan.borrower, False)):
            if wanted is None or one.pk in wanted:
                key = (one, other, owes, loan.material, loan.length)
                sums[key] = sums.get(key, 0) + loan.out
    found: dict[int, list[OwedPieces]] = {}
    for (one, other, owes, material, length), count in sums.items():
        found.setdefault(one.pk, []).append(OwedPieces(other, material, length, count, owes))
    for pieces in found.values():
        pieces.sort(key=lambda row: (not row.owes, row.other.name, row.material.name, row.length or Decimal(0)))
    return found
