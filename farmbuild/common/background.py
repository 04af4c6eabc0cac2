"""Long work beside the pages, on one machine: one thread of the serving process does it, a piece at a time.

What is handed over lives as long as the process. That is enough because every piece claims its row
(``common/long_work.py``): what a process that ended left behind is taken up again when its page is opened, and by
``watch`` where nobody opens it.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import partial
from queue import SimpleQueue
from threading import Event, Lock, Thread
from time import sleep
from typing import Any

from django.apps import apps
from django.conf import settings
from django.db import connections, transaction
from django.utils.module_loading import import_string
from django_tasks.backends.immediate import ImmediateBackend
from django_tasks.base import TaskResult

from farmbuild.common.long_work import LongWork, State, let_go

logger = logging.getLogger(__name__)
#: Seconds between two looks for work that nobody does.
LOOK_EVERY = 60
#: The task of each table, by its path: it takes the key of a row.
_tasks: dict[type[LongWork], str] = {}
#: Asked before each look: rows whose time has come wait for a worker from then on.
_ahead: list[Callable[[], None]] = []


class Worker:
    """The thread, begun with the first piece of work."""

    def __init__(self) -> None:
        self._pieces: SimpleQueue[Callable[[], None]] = SimpleQueue()
        self._thread: Thread | None = None
        self._lock = Lock()

    def take(self, piece: Callable[[], None]) -> None:
        self._pieces.put(piece)
        with self._lock:
            # A process that was forked off has the queue and no thread.
            if self._thread is None or not self._thread.is_alive():
                # It goes with the process: what is half done is given up, and nothing of it was stored.
                self._thread = Thread(target=self._work, name="long work", daemon=True)
                self._thread.start()

    @property
    def has_nothing_waiting(self) -> bool:
        return self._pieces.empty()

    def finish(self, timeout: float) -> bool:
        """Wait until all that was handed over is done; False where it takes longer. Seconds."""
        done = Event()
        self.take(done.set)
        return done.wait(timeout)

    def _work(self) -> None:
        while True:
            piece = self._pieces.get()
            try:
                piece()
            finally:
                # The connections of this thread: none is kept open while nothing is asked of it.
                connections.close_all()


worker = Worker()


class BackgroundBackend(ImmediateBackend):
    """As the immediate backend, but in the thread and once the transaction is stored."""

    def _execute_task(self, task_result: TaskResult[Any]) -> None:
        transaction.on_commit(partial(worker.take, partial(super()._execute_task, task_result)))


def release_left_behind() -> None:
    """At the start of the only process there is: what the one before was at waits for a worker again."""
    for model in apps.get_models():
        if issubclass(model, LongWork):
            model._default_manager.filter(state=State.WORKING).update(state=State.WAITING, worker="", step_note="")


def taken_up_by(model: type[LongWork], task: str, *, ahead: Callable[[], None] | None = None) -> None:
    """The task does the work on a row of ``model``; rooms say so as they are loaded. ``ahead``: of work that comes due
    by the clock, hands it over.
    """
    _tasks[model] = task
    if ahead:
        _ahead.append(ahead)


def take_up_left_behind() -> None:
    """Hand over what a worker fell silent over, and what waits in no queue because its process is gone."""
    idle = worker.has_nothing_waiting
    for hand_over in _ahead:
        hand_over()
    for model, path in _tasks.items():
        start = import_string(path).enqueue
        for pk in let_go(model):
            start(pk)
        # What ended between storing a row and queueing it left one that waits in no queue. A row that is handed over
        # twice is done once.
        for pk in model._default_manager.filter(state=State.WAITING).values_list("pk", flat=True):
            if idle if not settings.DATABASE_WORKERS else not _is_queued(path, pk):
                start(pk)


def _is_queued(path: str, pk: int) -> bool:
    from django_tasks_db.models import DBTaskResult

    return DBTaskResult.objects.ready().filter(task_path=path, args_kwargs__args=[pk]).exists()


def watch() -> None:
    """Look for such work from now on, for as long as the process lives."""

    def look() -> None:
        while True:
            try:
                take_up_left_behind()
            except Exception:
                # A database that is busy or gone for a while is looked at again.
                logger.warning("Work that was left behind could not be looked for", exc_info=True)
            finally:
                connections.close_all()
            sleep(LOOK_EVERY)

    Thread(target=look, name="look for work", daemon=True).start()
