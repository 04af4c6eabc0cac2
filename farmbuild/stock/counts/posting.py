"""A count goes into the books: every difference as a movement, or nothing. It happens once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext, ngettext

from farmbuild.catalogue.models import MAX_QUANTITY
from farmbuild.common.speaking import kept_words, said_count
from farmbuild.measure import format_count
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.counts.selectors import finds_of, progress_of, with_difference
from farmbuild.stock.counts.services import chunks, finish_count, lock_open_count, store_lines
from farmbuild.stock.models import CountFind, CountLine, Lot, Movement, StockCount
from farmbuild.stock.reserving.consuming import holders_in_words, promised_words, reservations_of_lots
from farmbuild.stock.services import post_movement, post_movements, take_numbers


@dataclass(frozen=True)
class LineProblem:
    line: CountLine
    sentence: str


class CountProblems(ValidationError):
    """Why lines cannot be posted, in ``problems``."""

    def __init__(self, problems: list[LineProblem]) -> None:
        super().__init__([problem.sentence for problem in problems])
        self.problems = problems


@needs(Act.STOCK)
@transaction.atomic
def post_count(
    *, organisation: Organisation, user: User | None, count: StockCount, seen: str | None = None
) -> StockCount:
    """Put the books right where the count differs, and end the count. Lots that were not counted stay as they are.

    ``seen`` is ``progress_of`` the count when it was looked at. Raises ValidationError when something was entered since
    or a second count is waited for, and CountProblems where a house holds more than was counted.
    """
    current = lock_open_count(organisation=organisation, count=count)
    if seen is not None and seen != progress_of(count=current):
        raise ValidationError(
            gettext("Something was entered while this page was open. Look at the differences again, then post.")
        )
    waiting = CountLine.objects.filter(count=current, again=True).count()
    if waiting:
        raise ValidationError(
            ngettext(
                "%(lots)s lot still waits for a second count. Enter it, or let the first count stand.",
                "%(lots)s lots still wait for a second count. Enter it, or let the first count stand.",
                waiting,
            )
            % {"lots": format_count(waiting)}
        )
    finds = list(finds_of(count=current).filter(taken_back=False))
    # The numbers are locked before the lots, here and wherever both are.
    references = take_numbers(organisation=organisation, count=len(finds)) if finds else []
    keys = list(
        CountLine.objects.filter(count=current, counted__isnull=False).order_by("lot").values_list("pk", flat=True)
    )
    if not keys and not finds:
        raise ValidationError(gettext("Nothing has been entered in %(lower)s yet.") % {"lower": str(current).lower()})
    problems: list[LineProblem] = []
    for some in chunks(keys):
        problems += _post_lines(current, user, some, stop=bool(problems))
    if problems:
        raise CountProblems(problems)
    today = today_of(organisation=current.organisation)
    for find, reference in zip(finds, references, strict=True):
        _post_find(current, user, find, reference, today)
    finish_count(current, StockCount.State.POSTED, user)
    return current


def _post_lines(count: StockCount, user: User | None, keys: list[int], *, stop: bool) -> list[LineProblem]:
    """Once a line cannot be posted the rest is only looked at."""
    mine = CountLine.objects.filter(pk__in=keys)
    lots = {
        lot.pk: lot
        for lot in Lot.objects.of(count.organisation)
        .select_for_update(no_key=True)
        .filter(pk__in=mine.values("lot"))
        .order_by("pk")
    }
    # Worked out under the locks of the lots.
    lines = list(with_difference(mine).order_by("lot"))
    problems = [found for line in lines if (found := _problem(line, lots[line.lot_id]))]
    if problems or stop:
        return problems
    wrong = [line for line in lines if line.difference]
    movements = post_movements(
        kind=Movement.Kind.COUNT,
        user=user,
        changes=[(lots[line.lot_id], line.difference, _reason(line)) for line in wrong],
        paper=kept_words(count),
    )
    for line in lines:
        line.worth = Decimal(0)
    for line, movement in zip(wrong, movements, strict=True):
        line.movement, line.worth = movement, movement.amount
    store_lines(lines, ["movement", "worth"])
    return []


def _reason(line: CountLine) -> str:
    return f"Counted {format_count(line.counted)} where the stock record said {format_count(line.expected)}"


def _problem(line: CountLine, lot: Lot) -> LineProblem | None:
    left = lot.on_hand + line.difference
    if left < 0:
        return LineProblem(
            line,
            gettext("Lot %(lot)s: counted were %(counted)s, and more than that was taken out since. Count it again.")
            % {"lot": lot, "counted": format_count(line.counted)},
        )
    if left < lot.reserved:
        return LineProblem(
            line,
            gettext(
                "Lot %(lot)s: %(pieces)s would be there, and houses hold %(reserved)s: %(holders)s. Count it again, or"
                " release what is not there on the page of the lot."
            )
            % {
                "lot": lot,
                "pieces": said_count(left, "piece"),
                "reserved": format_count(lot.reserved),
                "holders": holders_in_words(reservations_of_lots([lot.pk])),
            },
        )
    if left < lot.reserved + lot.promised:
        words = gettext("Lot %(lot)s: %(pieces)s would be there.") % {"lot": lot, "pieces": said_count(left, "piece")}
        return LineProblem(line, f"{words}{promised_words(lot)}")
    if left > MAX_QUANTITY:
        words = gettext("Lot %(lot)s: a lot holds at most %(most)s pieces. Count it again.")
        return LineProblem(line, words % {"lot": lot, "most": format_count(MAX_QUANTITY)})
    return None


def _post_find(count: StockCount, user: User | None, find: CountFind, reference: str, today: date) -> None:
    lot = Lot(
        organisation=count.organisation,
        reference=reference,
        material=find.material,
        length=find.length,
        offcut=find.offcut,
        place=find.place,
        unit_cost=find.unit_cost,
        received_on=today,
    )
    lot.full_clean()
    lot.save()
    reason = f"Found, not in the stock record{f': {find.note}' if find.note else ''}"[:200]
    post_movement(lot, Movement.Kind.COUNT, find.quantity, user, reason, paper=kept_words(count))
    find.lot = lot
    find.save(update_fields=["lot"])
