"""Django's migrations for a database that has no rows yet, in a third of the time.

After each operation Django makes the classes of all models that have to do with the changed one anew, and here that is
nearly all of them, a thousand times. The statements of an operation need those of its own model: the others stay as
they were, and are made anew where a column of theirs is renamed or another type, or where a migration asks for models.
The first start of a site is migrated so, and every database of the tests. One that a user has kept goes Django's way;
the long run of the tests goes it too, and compares what is made (``tests/upgrades/test_quick_migrations.py``).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from typing import Any

from django.core.management import call_command
from django.db import connection
from django.db.migrations.operations.special import RunPython
from django.db.migrations.recorder import MigrationRecorder
from django.db.migrations.state import ProjectState
from django.utils.functional import SimpleLazyObject


class _Quick(ProjectState):
    """Its methods stand in for those of the same name."""

    def add_model(self, model_state: Any) -> None:
        key = model_state.app_label, model_state.name_lower
        self.models[key] = model_state
        if self._relations is not None:
            self.resolve_model_relations(key)
        self.reload_model(*key, delay=True)

    def add_field(self, app_label: str, model_name: str, name: str, field: Any, preserve_default: bool) -> None:
        with _put(ProjectState, reload_model=lambda *key, **how: None):
            _add_field(self, app_label, model_name, name, field, preserve_default)
        self.reload_model(app_label, model_name, delay=True)

    def reload_model(self, app_label: str, model_name: str, delay: bool = False) -> None:
        if "apps" not in self.__dict__:
            return
        # Whoever asks for models gets all anew.
        self.is_delayed = True
        if delay:
            self._reload({(app_label, model_name)})
        else:
            self.clear_delayed_apps_cache()

    def reload_models(self, models: Any, delay: bool = True) -> None:
        self.is_delayed = True
        self.clear_delayed_apps_cache()


_add_field = ProjectState.add_field


def _run(self: RunPython, app_label: str, schema_editor: Any, from_state: ProjectState, to_state: ProjectState) -> None:
    """Most run SQL, and ask for no model."""
    from_state.clear_delayed_apps_cache()
    self.code(SimpleLazyObject(lambda: from_state.apps), schema_editor)


@contextmanager
def _put(owner: type, **methods: Any) -> Iterator[None]:
    before = {name: owner.__dict__[name] for name in methods}
    try:
        for name, method in methods.items():
            setattr(owner, name, method)
        yield
    finally:
        for name, method in before.items():
            setattr(owner, name, method)


@contextmanager
def quick_migrations() -> Iterator[None]:
    """Whatever is migrated in there, by a process that does nothing else meanwhile, is migrated so."""
    names = ("add_model", "add_field", "reload_model", "reload_models")
    with (
        _put(ProjectState, **{name: _Quick.__dict__[name] for name in names}),
        _put(RunPython, database_forwards=_run),
    ):
        yield


def migrate() -> None:
    """Make the tables, or bring them up to date."""
    with nullcontext() if MigrationRecorder(connection).applied_migrations() else quick_migrations():
        call_command("migrate", verbosity=0, interactive=False)
