"""Work that takes longer than a page can wait: one worker at a time claims the row, says how far it is, stores what
came out or why it stopped. A worker that falls silent is relieved, and learns it at its next word."""

from __future__ import annotations

import contextlib
import logging
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta
from typing import Any
from uuid import uuid4

from django.db import OperationalError, models
from django.db.models import F, Q, QuerySet
from django.utils import timezone

logger = logging.getLogger(__name__)

#: A worker that has not been heard from for so long has stopped.
SILENCE = timedelta(minutes=5)
#: What ended with its worker so often is begun no more until somebody says so: it may be what ends them.
MOST_BEGUN = 5
ENDED_TOO_OFTEN = (
    f"This was begun {MOST_BEGUN} times, and each time the program that did it ended before it was done, so nothing was"
    " stored. The machine may have been switched off or short of memory: ask whoever runs it, then try again."
)
#: Reasons shown where work stopped; more are counted.
MAX_REASONS = 20


class LongWork(models.Model):
    """A row that is worked out. ``problem`` says why it stopped, a reason a line."""

    #: Columns, of which the first that is filled says since when the row waits for a worker.
    WAITS_SINCE: tuple[str, ...] = ("heard_from_at", "created_at")

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting"
        WORKING = "working", "Being worked out"
        READY = "ready", "Worked out"
        FAILED = "failed", "Stopped"

    state = models.CharField(max_length=8, choices=State, default=State.WAITING, editable=False)
    steps_done = models.PositiveIntegerField(default=0, editable=False)
    steps = models.PositiveIntegerField(default=0, editable=False)
    step_note = models.CharField(max_length=200, blank=True, editable=False)
    #: How often a worker began it since it was asked for.
    begun = models.PositiveSmallIntegerField(default=0, editable=False)
    problem = models.TextField(blank=True, editable=False)
    #: Secret of the one worker that works it out, and its last sign of life.
    worker = models.CharField(max_length=32, blank=True, editable=False)
    heard_from_at = models.DateTimeField(null=True, editable=False)

    class Meta:
        abstract = True

    @property
    def is_open_to_work(self) -> bool:
        """Nobody works on it and it is not done, as far as this row knows."""
        silent = self.heard_from_at is not None and self.heard_from_at < timezone.now() - SILENCE
        return self.state == self.State.WAITING or (self.state == self.State.WORKING and silent)

    @property
    def note(self) -> str:
        """What is being done, and whether another began it before."""
        if self.state == self.State.WAITING:
            return "Waiting to be taken up again" if self.begun else "Waiting for a worker"
        return f"Taken up again: {self.step_note}" if self.begun > 1 and self.step_note else self.step_note

    @property
    def progress(self) -> dict[str, Any]:
        """How far it is, as the script of the page reads it."""
        return {"state": self.state, "done": self.steps_done, "total": self.steps, "note": self.note}


class LongSearch(LongWork):
    """Work that looks for better for as long as it may; who cannot wait asks for the best so far."""

    ends_early = models.BooleanField(default=False, editable=False)

    class Meta:
        abstract = True


State = LongWork.State


class TakenOver(Exception):
    """Another worker has the row now."""


class WorkStopped(Exception):
    """The work cannot be done; the text is for the user."""


@dataclass(frozen=True)
class Claim:
    """What one worker may do with the row: ``rows`` finds it only for as long as it is this worker's."""

    pk: int
    rows: QuerySet[Any]

    @classmethod
    def of(cls, model: type[LongWork], pk: int) -> Claim | None:
        """None where it is done, has stopped, or is in another worker's hands."""
        worker = uuid4().hex
        silent = Q(state=State.WORKING, heard_from_at__lt=timezone.now() - SILENCE)
        open_to_work = model._default_manager.filter(Q(state=State.WAITING) | silent, pk=pk)
        open_to_work.filter(begun__gte=MOST_BEGUN).update(state=State.FAILED, worker="", problem=ENDED_TOO_OFTEN)
        # One statement, so that of two workers only one finds it open.
        taken = open_to_work.update(
            state=State.WORKING,
            begun=F("begun") + 1,
            worker=worker,
            heard_from_at=timezone.now(),
            steps_done=0,
            steps=0,
            step_note="Starting",
        )
        return cls(pk, model._default_manager.filter(pk=pk, state=State.WORKING, worker=worker)) if taken else None

    def note(self, done: int, steps: int, words: str) -> None:
        """Say how far the work is. Raises TakenOver."""
        try:
            found = self.rows.update(steps_done=done, steps=steps, step_note=words[:200], heard_from_at=timezone.now())
        except OperationalError:
            # A busy database is no reason to give up the work; the next note will do.
            return
        if not found:
            raise TakenOver

    def hold(self, **values: Any) -> None:
        """Until the transaction ends nobody takes the row over; ``values`` are stored. Raises TakenOver."""
        # With something stored it goes on from there, so what ends it now is another thing.
        if not self.rows.update(heard_from_at=timezone.now(), begun=1, **values):
            raise TakenOver

    def finish(self, **values: Any) -> None:
        """Store what came out. Raises TakenOver, with nothing stored."""
        if not self.rows.update(state=State.READY, worker="", step_note="", begun=0, **values):
            raise TakenOver

    def stop(self, problem: str) -> None:
        self.rows.update(state=State.FAILED, worker="", problem=problem)


class AskedToEnd:
    """Whether somebody asked for the best so far; calling it looks at most once in ``SECONDS``, and keeps a yes."""

    SECONDS = 1.0

    def __init__(self, claim: Claim) -> None:
        self._rows = claim.rows
        self._asked = False
        self._next = time.monotonic()

    def __call__(self) -> bool:
        if not self._asked and time.monotonic() >= self._next:
            self._next = time.monotonic() + self.SECONDS
            # A busy database is no reason to give up the work.
            with contextlib.suppress(OperationalError):
                self._asked = self._rows.filter(ends_early=True).exists()
        return self._asked


def run_claimed(model: type[LongWork], pk: int, work: Callable[[Claim], None], *, unexpected: str) -> None:
    """Do the work if the row is open to it. ``unexpected``: what the user reads after a fault in the program.

    ``work`` finishes the claim, or raises WorkStopped with what the user reads then.
    """
    claim = Claim.of(model, pk)
    if claim is None:
        return
    try:
        work(claim)
    except TakenOver:
        logger.warning("%s %s was taken over by another worker", model.__name__, pk)
    except WorkStopped as stopped:
        claim.stop(str(stopped))
    except Exception:
        logger.exception("%s %s could not be worked out", model.__name__, pk)
        claim.stop(unexpected)


def let_go(model: type[LongWork]) -> list[int]:
    """Rows over which their worker fell silent wait again; each is told to one who asks."""
    silent = model._default_manager.filter(state=State.WORKING, heard_from_at__lt=timezone.now() - SILENCE)
    return [
        pk
        for pk in silent.values_list("pk", flat=True)
        if silent.filter(pk=pk).update(state=State.WAITING, worker="", step_note="")
    ]


def wait_anew(rows: QuerySet[Any], **values: Any) -> int:
    """These wait for a worker as if they had never been begun; gives how many. ``values`` are stored with it."""
    search = {"ends_early": False} if issubclass(rows.model, LongSearch) else {}
    told = {"worker": "", "problem": "", "steps_done": 0, "steps": 0, "step_note": ""}
    return rows.update(state=State.WAITING, begun=0, heard_from_at=timezone.now(), **told, **search, **values)


def try_again(row: LongWork) -> None:
    """What stopped waits for a worker again."""
    wait_anew(type(row)._default_manager.filter(pk=row.pk, state=State.FAILED))


def end_early(row: LongSearch) -> bool:
    """Ask for the best so far; one that waits still gives the first that it finds. False where it has ended already."""
    under_way = type(row)._default_manager.filter(pk=row.pk, state__in=(State.WAITING, State.WORKING))
    return bool(under_way.update(ends_early=True))


def listed(reasons: Sequence[str]) -> str:
    """One reason a line; beyond a screenful they are counted."""
    lines = list(reasons[:MAX_REASONS])
    if more := len(reasons) - len(lines):
        lines.append(f"There are {more} more reasons like these." if more > 1 else "There is 1 more reason like these.")
    return "\n".join(lines)
