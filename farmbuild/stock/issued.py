"""What was handed out for houses and has not come back, by the ledger."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import F, QuerySet, Sum

from farmbuild.common.compiled import compiled_once
from farmbuild.stock.models import Movement, UsedHold

OUT = (Movement.Kind.ISSUE, Movement.Kind.RETURN)


@dataclass(frozen=True)
class IssuedPieces:
    """Equal pieces, for the purpose that they had been held for; "" where they had not been."""

    house: int
    material: str
    length: Decimal | None
    offcut: bool
    purpose: str
    quantity: int


def issued_to(*, houses: Collection[int]) -> Iterator[IssuedPieces]:
    """Pieces issued to each house less those returned and reversed; two queries."""
    out = {tuple(key): -total for *key, total in _moved(houses)}
    purposes: dict[tuple[object, ...], list[tuple[str, int]]] = defaultdict(list)
    for *key, purpose, total in _held(houses):
        purposes[tuple(key)].append((purpose, total))
    for key, total in sorted(out.items(), key=lambda item: (item[0][0], item[0][1], item[0][2] or 0, item[0][3])):
        left = total
        for purpose, quantity in [*sorted(purposes[key]), ("", total)]:
            if (part := min(left, quantity)) > 0:
                left -= part
                yield IssuedPieces(*key, purpose=purpose, quantity=part)


_WHAT = ("house", "lot__material__code", "lot__length", "lot__offcut")


@compiled_once
def _moved(houses: Sequence[int]) -> QuerySet[Movement]:
    rows = Movement.objects.filter(house__in=houses, kind__in=OUT).order_by()
    return rows.values_list(*_WHAT).annotate(sum=Sum("quantity"))


@compiled_once
def _held(houses: Sequence[int]) -> QuerySet[UsedHold]:
    held = UsedHold.objects.filter(movement__house__in=houses, movement__house=F("house"), movement__kind=OUT[0])
    sums = held.filter(movement__reversed_by=None).order_by().values_list(
        "house", *(f"movement__{name}" for name in _WHAT[1:]), "purpose"
    )  # fmt: skip
    return sums.annotate(sum=Sum(F("quantity") - F("back")))
