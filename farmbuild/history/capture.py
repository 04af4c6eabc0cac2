"""How rows come into the act under way: saved, deleted, linked, and written many at once."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.db.models import Model, QuerySet

from farmbuild.history.act import Act, Gone, current
from farmbuild.history.kept import KEPT, Kept


def _kept(model: type[Model]) -> tuple[Act, Kept] | None:
    act = current()
    if act is None or model in act.quiet:
        return None
    kept = KEPT.get(model)
    return (act, kept) if kept else None


def note_rows(act: Act, kept: Kept, rows: QuerySet, names: Iterable[str] | None = None) -> None:
    """The rows as they are now, locked, so that nobody changes them between this and what is done to them.

    ``names``: the columns that are about to change; None: any. What is known of a row already stays as it was.
    """
    known = act.before[kept.model]
    wanted = kept.names if names is None else tuple(name for name in kept.names if name in names)
    # A part carries what it is a part of, so that it is found when it is gone.
    columns = (*wanted, kept.of) if kept.of else wanted
    for values in rows.select_for_update(no_key=True, of=("self",)).values("pk", *columns):
        key = values.pop("pk")
        if key not in known:
            known[key] = values
        elif known[key] is not None:
            known[key] = values | known[key]


def _is_known(act: Act, kept: Kept, key: int, names: Iterable[str]) -> bool:
    known = act.before[kept.model]
    return key in known and (known[key] is None or known[key].keys() >= {*names})


def before_save(sender: type[Model], instance: Any, raw: bool, update_fields: Any, **_: Any) -> None:
    if raw or instance._state.adding or not (found := _kept(sender)):
        return
    act, kept = found
    names = {*kept.names} if update_fields is None else {*kept.names} & {*update_fields}
    if names and not _is_known(act, kept, instance.pk, names):
        note_rows(act, kept, sender._base_manager.filter(pk=instance.pk), names)


def after_save(sender: type[Model], instance: Any, raw: bool, created: bool, **_: Any) -> None:
    if created and not raw:
        note_made(sender, [instance])


def before_delete(sender: type[Model], instance: Any, **_: Any) -> None:
    if not (found := _kept(sender)):
        return
    act, kept = found
    if (sender, instance.pk) in act.gone:
        return
    if not _is_known(act, kept, instance.pk, kept.names):
        note_rows(act, kept, sender._base_manager.filter(pk=instance.pk))
    _note_gone(act, kept, instance)


def _note_gone(act: Act, kept: Kept, instance: Any) -> None:
    act.gone[kept.model, instance.pk] = Gone(
        name=kept.name(instance)[:200],
        whole=kept.whole(instance)[:200],
        organisation=getattr(instance, "organisation_id", None),
        parent=getattr(instance, f"{kept.of}_id") if kept.of else None,
        key=kept.address_key(instance),
    )


def before_links(sender: type[Model], instance: Any, action: str, reverse: bool, **_: Any) -> None:
    """Links of a row to many others are one of its values: the keys of those, in their order."""
    if not action.startswith("pre_") or reverse or not (found := _kept(type(instance))):
        return
    act, kept = found
    for name in kept.many:
        if getattr(kept.model, name).through is not sender:
            continue
        known = act.before[kept.model]
        if instance.pk not in known:
            note_rows(act, kept, kept.model._base_manager.filter(pk=instance.pk))
        values = known.get(instance.pk)
        if values is not None and name not in values:
            values[name] = linked(instance, name)


def linked(instance: Any, name: str) -> tuple[int, ...]:
    return tuple(getattr(instance, name).order_by("pk").values_list("pk", flat=True))


class KeptQuerySet(QuerySet):
    """Rows of which the history keeps what is written many at once, which Django tells nobody of."""

    def update(self, **kwargs: Any) -> int:
        if found := _kept(self.model):
            act, kept = found
            if names := {*kept.names} & {name.removesuffix("_id") for name in kwargs}:
                # Keys of the rows alone: they may be joined, sorted or annotated here.
                chosen = self.order_by().values("pk")
                note_rows(act, kept, self.model._base_manager.filter(pk__in=chosen), names)
        return super().update(**kwargs)

    update.alters_data = True

    def delete(self) -> tuple[int, dict[str, int]]:
        """Noted here for all rows at once; Django tells of each alone."""
        if found := _kept(self.model):
            act, kept = found
            rows = self.model._base_manager.filter(pk__in=self.order_by().values("pk"))
            note_rows(act, kept, rows)
            for row in rows.select_related(*kept.with_rows):
                _note_gone(act, kept, row)
        return super().delete()

    delete.alters_data = True
    delete.queryset_only = True

    def bulk_create(self, objs: Iterable[Any], *args: Any, **kwargs: Any) -> list[Any]:
        made = super().bulk_create(objs, *args, **kwargs)
        # Where rows that are there already are passed over, nobody knows which are new: the caller tells.
        note_made(self.model, (row for row in made if row.pk is not None))
        return made


def note_made(model: type[Model], rows: Iterable[Any]) -> None:
    """These rows were made in this act; for where a bulk write does not say so itself."""
    if not (found := _kept(model)):
        return
    act, kept = found
    for row in rows:
        # Thousands of pieces may come in at once, and their own ledger says so.
        if kept.added_as(row) is not None:
            act.before[model].setdefault(row.pk, None)
            act.made[model][row.pk] = row
