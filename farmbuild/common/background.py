"""Long work beside the pages, on one machine: one thread of the serving process does it, a piece at a time.

What is handed over lives as long as the process. That is enough because every piece claims its row
(``common/long_work.py``): what a process that ended left behind is taken up again when its page is opened.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from queue import SimpleQueue
from threading import Event, Lock, Thread
from typing import Any

from django.apps import apps
from django.db import connections, transaction
from django_tasks.backends.immediate import ImmediateBackend
from django_tasks.base import TaskResult

from farmbuild.common.long_work import LongWork, State


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
