"""A process that puts files of lots into stock is killed at random: afterwards every file is whole or not there.

A long one is taken up again where the last worker was killed, while others write.
"""

from __future__ import annotations

import re
import time
from datetime import date
from threading import Event, Thread

import pytest
from django.db import connection
from django.db.models import Count, Sum
from django.utils import timezone

from farmbuild.common.long_work import ENDED_TOO_OFTEN, SILENCE, try_again
from farmbuild.stock import import_work, importing
from farmbuild.stock.ledger_selectors import differences
from farmbuild.stock.models import ImportDraft, ImportLot, ImportPart, Lot, LotNumbers, Movement, Place
from tests.factories import MaterialFactory, MembershipFactory, PlaceFactory
from tests.stock.killing import kill_again_and_again

pytestmark = pytest.mark.django_db(transaction=True)
ROWS = 240
#: In twelve batches.
LONG_ROWS = 1200


def test_whole_or_not_there():
    member = MembershipFactory()
    MaterialFactory(organisation=member.organisation, code="rail", name="Rail")
    halves: list[str] = []

    def look(said: list[str]) -> None:
        halves.append(_check(member.organisation, said))

    said = kill_again_and_again(
        "tests.stock.importing_worker",
        member.organisation.pk,
        member.user.pk,
        ROWS,
        after_each=look,
        seed=20270421,
    )
    assert len(said) > 1
    # Some kills came between the reading and the storing, or inside one of them.
    assert "draft" in halves


def _check(organisation, said: list[str]) -> str:
    lots = Lot.objects.of(organisation)
    files = lots.order_by().values_list("place__name").annotate(Count("pk"))
    stored: dict[str, int] = {}
    for name, count in files:
        token = re.fullmatch(r"Bay ([0-9a-f-]{36}) \d", name)[1]
        stored[token] = stored.get(token, 0) + count
    # Whole or not there, and what was said to be stored is there.
    assert set(stored.values()) <= {ROWS}
    assert set(said) <= set(stored)
    # One more at most was stored and not said any more.
    assert Place.objects.of(organisation).count() == 5 * len(stored)
    # Every lot came by one movement, and its count is that.
    assert list(differences(organisation=organisation)) == []
    assert Movement.objects.filter(lot__organisation=organisation).count() == ROWS * len(stored)
    pieces = 2 * sum(at % 7 + 1 for at in range(ROWS // 2))
    assert (lots.aggregate(sum=Sum("on_hand"))["sum"] or 0) == pieces * len(stored)
    # Numbers were given once each, and none is above the last.
    numbers = LotNumbers.objects.filter(organisation=organisation).first()
    given = lots.filter(reference__startswith="L-").count()
    assert given == ROWS // 2 * len(stored)
    assert (numbers.last if numbers else 0) == given
    # A draft that waits is whole, and is none of what is stored.
    draft = ImportDraft.objects.of(organisation).first()
    if draft is None:
        assert not ImportPart.objects.exists()
        return "none"
    assert sum(len(part.rows) for part in draft.parts.filter(bad=False)) == draft.rows == ROWS
    assert draft.filename.removesuffix(".csv") not in stored
    return "draft"


def test_a_long_file_is_taken_up_again_until_it_is_there_and_others_write_meanwhile():
    member = MembershipFactory()
    MaterialFactory(organisation=member.organisation, code="rail", name="Rail")
    given = {"organisation": member.organisation, "user": member.user}
    lines = "".join(f"rail,10',2,Bay {at % 5},{f'R-{at}' if at % 2 else ''}\n" for at in range(LONG_ROWS))
    data = f"Material,Length,Quantity,Place,Reference\n{lines}".encode()
    draft = importing.make_draft(**given, data=data, filename="yard.csv", today=date(2027, 4, 20))
    importing.confirm_draft(**given, draft=draft)
    stages: list[tuple[int, int]] = []
    waited: list[float] = []
    over = Event()

    def others() -> None:
        while not over.is_set():
            began = time.monotonic()
            PlaceFactory(organisation=member.organisation)
            waited.append(time.monotonic() - began)
            # A moment with no session but the test's own, by which it sees that a killed one has ended.
            connection.close()
            over.wait(0.05)

    def look(said: list[str]) -> None:
        there = Lot.objects.of(member.organisation).count()
        # All of them or none, and nobody reads that it is there before it is.
        assert there in (0, LONG_ROWS) and Movement.objects.count() == there
        draft.refresh_from_db()
        assert bool(draft.stored_at) == bool(there)
        waiting = ImportLot.objects.filter(draft=draft).count()
        assert there or waiting == min(draft.prepared * importing.PART, LONG_ROWS)
        stages.append((there, waiting))
        if draft.state == ImportDraft.State.FAILED:
            # Killed so often before it stored anything that it waits for somebody to say so.
            assert draft.problem == ENDED_TOO_OFTEN
            try_again(draft)

    writer = Thread(target=others)
    writer.start()
    try:
        kill_again_and_again("tests.stock.importing_long_worker", draft.pk, after_each=look, seed=20270423)
    finally:
        over.set()
        writer.join()
    # Some were killed with batches behind them; where none got to the end, the next worker does.
    assert any(waiting for _, waiting in stages)
    ImportDraft.objects.update(heard_from_at=timezone.now() - 2 * SILENCE, begun=0)
    import_work.work_on_import(draft.pk)
    look([])
    assert stages[-1][0] == LONG_ROWS and list(differences(organisation=member.organisation)) == []
    references = Lot.objects.of(member.organisation).values_list("reference", flat=True)
    assert len(set(references)) == LONG_ROWS
    # The database gives up after 20 s, where a page says 503.
    assert len(waited) > len(stages) and max(waited) < 20
