"""How a room says what the history keeps of its tables."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from django.db.models import Model
from django.db.models.signals import m2m_changed, post_save, pre_delete, pre_save

from farmbuild.history import capture
from farmbuild.history.kept import KEPT, Deeds, Kept, is_secret


def keep(
    model: type[Model],
    kind: str = "",
    *,
    title: str = "",
    of: str = "",
    leave_out: Iterable[str] = (),
    money: Iterable[str] = (),
    deeds: Deeds | None = None,
    added: str | Callable[[Any], str | None] | None = "added",
    leads_to: tuple[str, ...] | None = None,
    name: Callable[[Any], str] = str,
    with_rows: Iterable[str] = (),
    labels: Mapping[str, str] | None = None,
    said: Mapping[str, Callable[[Any], str]] | None = None,
    whole: Callable[[Any], str] | None = None,
) -> None:
    """The history keeps what people change of this table. A record has a ``kind``, a part says ``of`` what it is."""
    if bool(kind) == bool(of):
        raise TypeError(f"{model.__name__} is either a record of a kind or a part of one.")
    meta = model._meta
    away = {meta.pk.name, of, "organisation", "slug", *leave_out}
    names = tuple(field.name for field in meta.concrete_fields if field.name not in away and not is_secret(field.name))
    many = tuple(field.name for field in meta.many_to_many if field.name not in away)
    if unknown := set(leave_out) - {field.name for field in meta.get_fields()}:
        raise TypeError(f"{model.__name__} has no {', '.join(sorted(unknown))}.")
    KEPT[model] = Kept(
        model=model,
        kind=kind,
        title=title or str(meta.verbose_name),
        of=of,
        names=names,
        many=many,
        money=frozenset(money),
        deeds=deeds or {},
        added=added,
        leads_to=leads_to,
        name=name,
        with_rows=tuple(with_rows),
        labels=labels or {},
        said=said or {},
        whole=whole or name,
    )
    pre_save.connect(capture.before_save, sender=model, dispatch_uid=f"history-{meta.label}")
    post_save.connect(capture.after_save, sender=model, dispatch_uid=f"history-{meta.label}")
    pre_delete.connect(capture.before_delete, sender=model, dispatch_uid=f"history-{meta.label}")
    for field_name in many:
        through = getattr(model, field_name).through
        m2m_changed.connect(capture.before_links, sender=through, dispatch_uid=f"history-{meta.label}-{field_name}")
