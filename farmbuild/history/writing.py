"""An act that is over, told: what it really changed, an entry a record.

What was noted is held against what the database has now, so that whatever was taken back meanwhile is not told.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any
from uuid import uuid4

from django.db.models import BinaryField, ForeignKey, JSONField, Model
from django.utils import timezone

from farmbuild.history.act import Act, Gone
from farmbuild.history.capture import linked
from farmbuild.history.kept import KEPT, Kept, parent_of
from farmbuild.history.models import Entry
from farmbuild.history.order import take_place
from farmbuild.history.signals import written
from farmbuild.history.values import ONE_GONE, Said, kept_value, money_value, text_value
from farmbuild.measure.speech import gettext_noop

_AT_A_TIME = 500
#: Changes of one record told one by one; more are counted.
MAX_CHANGES = 60
MORE = gettext_noop("more changes like these")
Values = dict[str, Any]
#: Deeds that say no more of a record than that it came or went.
_PLAIN = {"added", "removed"}
#: The kind whose rows are organisations themselves.
ORGANISATION = "organisation"


@dataclass
class Told:
    """One record on its way to an entry."""

    kept: Kept
    record: int
    name: str
    organisation: int
    key: str
    deeds: list[str] = field(default_factory=list)
    changes: list[dict[str, Any]] = field(default_factory=list)
    made: bool = False
    removed: bool = False


def write(act: Act) -> None:
    """Entries of what the act changed, in the language in force, which is that of what is kept; none where it changed
    nothing.
    """
    if not act.before:
        return
    told = [one for one in _Telling(act).records() if one.organisation and (one.deeds or one.changes)]
    if not told:
        return
    # What one pressed stands for what follows from it: "accepted" before the orders that are written then.
    told.sort(key=lambda one: 0 if {*one.deeds} - _PLAIN else 1 if one.deeds else 2)
    common = {
        "at": timezone.now(),
        "act": uuid4(),
        "user_id": act.user.pk,
        "who": act.user.display_name[:300],
    }
    # Of one act in several organisations, each sees its own first.
    seen: dict[int, Entry] = {}
    entries = []
    for one in told:
        entry = Entry(
            **common,
            organisation_id=one.organisation,
            first=one.organisation not in seen,
            kind=one.kept.kind,
            record=one.record,
            name=one.name[:200],
            address_key=one.key[:120],
            deed=" and ".join(dict.fromkeys(one.deeds))[:80] or "changed",
            removed=one.removed,
            changes=_bounded(one.changes),
        )
        entries.append(entry)
        seen.setdefault(one.organisation, entry).others += not entry.first
    take_place(seen)
    Entry.objects.bulk_create(entries, batch_size=_AT_A_TIME)
    written.send(Entry, organisations=[*seen])


def _bounded(changes: list[dict[str, Any]]) -> list[dict[str, Any]]:
    more = len(changes) - MAX_CHANGES
    if more <= 0:
        return changes
    return [*changes[:MAX_CHANGES], {"l": MORE, "a": None, "b": {"n": str(more)}}]


class _Telling:
    """What is read once for all that an act touched."""

    def __init__(self, act: Act) -> None:
        self.act = act
        self.rows: dict[type[Model], dict[int, Any]] = {
            model: self._now(KEPT[model], before) for model, before in act.before.items() if before
        }
        #: (table, key) of other rows that are named, by table, and what they are called.
        self.names: dict[type[Model], dict[int, str]] = {}
        self.told: dict[tuple[type[Model], int], Told] = {}
        self._currencies: dict[int, str] = {}

    def _now(self, kept: Kept, before: dict[int, Values | None]) -> dict[int, Any]:
        """The rows that are there now. Of those made in this act it is asked alone whether they still are."""
        made = self.act.made.get(kept.model, {})
        if kept.of:
            # A record that is made in the same act is told without its parts.
            new = self.act.made.get(parent_of(kept), {})
            made = {key: row for key, row in made.items() if getattr(row, f"{kept.of}_id") not in new}
        rows = _rows(kept, [key for key, values in before.items() if values is not None])
        new = [key for key, values in before.items() if values is None and key in made]
        if kept.with_rows and len(new) > 1:
            return rows | _rows(kept, new)
        there = kept.model._base_manager
        for some in _parts(new):
            rows |= {key: made[key] for key in there.filter(pk__in=some).values_list("pk", flat=True)}
        return rows

    def records(self) -> Iterable[Told]:
        self._look_up_names()
        tables = sorted(self.rows, key=lambda model: bool(KEPT[model].of))
        for model in tables:
            kept = KEPT[model]
            if kept.of:
                self._tell_parts(kept)
            else:
                for key, before in self.act.before[model].items():
                    self._tell_record(kept, key, before)
        return self.told.values()

    # Records

    def _tell_record(self, kept: Kept, key: int, before: Values | None) -> None:
        row = self.rows[kept.model].get(key)
        if before is None and row is None:
            return
        if before is None:
            if (deed := kept.added_as(row)) is not None:
                self._told(kept, key).deeds.append(deed)
            self._told(kept, key).made = True
            return
        if row is None:
            one = self._told(kept, key)
            one.removed = True
            one.deeds.append("removed")
            one.changes += self._changes(kept, before, {}, owner=one.organisation)
            return
        after = _values(row, before)
        if after == before:
            return
        deeds, by_deed = _deeds(kept, before, after)
        one = self._told(kept, key)
        one.deeds += deeds
        one.changes += self._changes(kept, before, after, owner=one.organisation, but=by_deed)

    def _told(self, kept: Kept, key: int) -> Told:
        found = self.told.get((kept.model, key))
        if found is None:
            found = self.told[kept.model, key] = self._start(kept, key)
        return found

    def _start(self, kept: Kept, key: int) -> Told:
        if (row := self._row(kept, key)) is not None:
            return Told(kept, key, kept.name(row), self._owner(kept, row), kept.address_key(row))
        gone = self.act.gone.get((kept.model, key), Gone(str(key), str(key), None, None, ""))
        return Told(kept, key, gone.name, gone.organisation or self._own(), gone.key)

    def _owner(self, kept: Kept, row: Any) -> int:
        """Key of the organisation; 0 for none, of which nothing is told: it would be nobody's to read."""
        if kept.kind == ORGANISATION:
            return row.pk
        return getattr(row, "organisation_id", None) or self._own()

    def _own(self) -> int:
        return self.act.organisation.pk if self.act.organisation else 0

    def _row(self, kept: Kept, key: int) -> Any:
        """The row as it is now; one that only parts of it bring up is fetched."""
        known = self.rows.setdefault(kept.model, {})
        if key not in known and (kept.model, key) not in self.act.gone:
            known |= _rows(kept, [key])
        return known.get(key)

    # Parts

    def _tell_parts(self, kept: Kept) -> None:
        by_record: dict[tuple[type[Model], int], tuple[Told, list[int]]] = {}
        for key in self.act.before[kept.model]:
            parent = self._parent(kept, key)
            record = self._record(kept, parent) if parent is not None else None
            if record is not None and not record.removed:
                by_record.setdefault((record.kept.model, record.record), (record, []))[1].append(key)
        for record, keys in by_record.values():
            deeds, changes = self._part_changes(kept, keys, record)
            record.deeds += deeds
            record.changes += changes

    def _record(self, kept: Kept, parent: int) -> Told | None:
        above = KEPT[parent_of(kept)]
        while above.of:
            row = self._row(above, parent)
            gone = self.act.gone.get((above.model, parent))
            up = getattr(row, f"{above.of}_id") if row is not None else gone and gone.parent
            if up is None:
                return None
            parent, above = up, KEPT[parent_of(above)]
        return self._told(above, parent)

    def _parent(self, kept: Kept, key: int) -> int | None:
        row = self.rows[kept.model].get(key)
        if row is not None:
            return getattr(row, f"{kept.of}_id")
        gone = self.act.gone.get((kept.model, key))
        return gone.parent if gone else (self.act.before[kept.model][key] or {}).get(kept.of)

    def _part_changes(self, kept: Kept, keys: list[int], record: Told) -> tuple[list[str], list[dict[str, Any]]]:
        """What became of the parts of one record; those written anew are found again by name."""
        deeds, changes, owner = [], [], record.organisation
        gone, made = [], []
        for key in keys:
            before, row = self.act.before[kept.model][key], self.rows[kept.model].get(key)
            if before is None and row is not None:
                made.append(row)
            elif before is not None and row is None:
                gone.append((key, before))
            elif before is not None:
                after = _values(row, before)
                if after != before:
                    some, by_deed = _deeds(kept, before, after)
                    deeds += some
                    changes += self._changes(kept, before, after, owner=owner, but=by_deed, part=kept.name(row))
        for (key, before), row in self._matched(kept, gone, made):
            if row is None:
                changes += self._whole(kept, before, {}, self._gone_name(kept, key), owner, self._gone_whole(kept, key))
            elif before is not None:
                changes += self._changes(kept, before, _values(row, before), owner=owner, part=kept.name(row))
            else:
                deed, values = kept.added_as(row), _values(row, dict.fromkeys(kept.names))
                if deed is not None and deed != "added":
                    deeds.append(deed)
                    changes += self._changes(kept, {}, values, owner=owner)
                elif deed is not None and not record.made:
                    changes += self._whole(kept, {}, values, kept.name(row), owner, kept.whole(row))
        return deeds, changes

    def _whole(
        self, kept: Kept, before: Values, after: Values, name: str, owner: int, whole: str
    ) -> list[dict[str, Any]]:
        """A part that came or went: what it is, and what it costs."""
        said = text_value(whole)
        change = {"l": kept.title, "a": said if before else None, "b": said if after else None}
        money = {each: value for each, value in (before or after).items() if each in kept.money}
        return [change, *self._changes(kept, money if before else {}, money if after else {}, owner=owner, part=name)]

    def _gone_name(self, kept: Kept, key: int) -> str:
        gone = self.act.gone.get((kept.model, key))
        return gone.name if gone else kept.title

    def _gone_whole(self, kept: Kept, key: int) -> str:
        gone = self.act.gone.get((kept.model, key))
        return gone.whole if gone else kept.title

    def _matched(
        self, kept: Kept, gone: list[tuple[int, Values]], made: list[Any]
    ) -> Iterator[tuple[tuple[int, Any], Any]]:
        """Pairs of a part that went and the one that came in its place; None for the side on which there is none."""
        by_name: dict[str, list[Any]] = defaultdict(list)
        for row in made:
            by_name[kept.name(row)[:200]].append(row)
        for key, before in gone:
            rows = by_name.get(self._gone_name(kept, key))
            yield (key, before), rows.pop(0) if rows else None
        for rows in by_name.values():
            for row in rows:
                yield (row.pk, None), row

    # Values

    def _changes(
        self, kept: Kept, before: Values, after: Values, *, owner: int, but: Iterable[str] = (), part: str = ""
    ) -> list[dict[str, Any]]:
        found = []
        for name in (*kept.names, *kept.many):
            old, new = before.get(name), after.get(name)
            if old == new or name in but:
                continue
            change = {"l": kept.label(name), "a": self._said(kept, name, old, owner)}
            change["b"] = self._said(kept, name, new, owner)
            if change["a"] == change["b"]:
                continue
            if part:
                change["p"] = part[:120]
            if name in kept.money:
                change["costs"] = True
            found.append(change)
        return found

    def _said(self, kept: Kept, name: str, value: Any, owner: int) -> Said:
        field_ = kept.field(name)
        if name in kept.many:
            names = self.names.get(field_.related_model, {})
            return text_value(", ".join(names.get(key, ONE_GONE) for key in value or ()))
        if isinstance(field_, ForeignKey):
            return text_value(self.names.get(field_.related_model, {}).get(value, ONE_GONE)) if value else None
        if name in kept.said:
            return text_value(kept.said[name](value)) if value else None
        if name in kept.money:
            return money_value(value, self._currency(owner))
        return kept_value(field_, value)

    def _currency(self, owner: int) -> str:
        if owner not in self._currencies:
            own = self.act.organisation
            known = own is not None and own.pk == owner
            self._currencies[owner] = own.currency if known else _currency_of(owner)
        return self._currencies[owner]

    def _look_up_names(self) -> None:
        """What the rows are called to which changed values refer, a query a table."""
        wanted: dict[type[Model], set[int]] = defaultdict(set)
        for model, rows in self.rows.items():
            kept = KEPT[model]
            for key, before in self.act.before[model].items():
                for related, keys in _references(kept, before, rows.get(key)):
                    wanted[related] |= keys
        for related, keys in wanted.items():
            known = self.names[related] = {}
            for some in _parts(keys):
                for row in related._base_manager.defer(*_large(related, ())).filter(pk__in=some):
                    known[row.pk] = str(getattr(row, "display_name", row))
            for key in keys - known.keys():
                if gone := self.act.gone.get((related, key)):
                    known[key] = gone.name


def _currency_of(organisation: int) -> str:
    model = Entry._meta.get_field("organisation").related_model
    return model._base_manager.values_list("currency", flat=True).get(pk=organisation)


def _references(kept: Kept, before: Values | None, row: Any) -> Iterator[tuple[type[Model], set[int]]]:
    """Keys of rows of other tables that a change of this one names."""
    if before is None and (row is None or kept.added_as(row) in (None, "added")):
        return
    for name in (*kept.names, *kept.many):
        field_ = kept.field(name)
        old = (before or {}).get(name)
        if name in kept.many:
            if old is not None:
                new = linked(row, name) if row is not None else ()
                if new != old:
                    yield field_.related_model, {*old, *new}
        elif isinstance(field_, ForeignKey):
            new = getattr(row, field_.attname) if row is not None else None
            if new != old:
                yield field_.related_model, {key for key in (old, new) if key is not None}


def _rows(kept: Kept, keys: Iterable[int]) -> dict[int, Any]:
    """The rows that are there now, without what is large and not told."""
    rows = kept.model._base_manager.select_related(*kept.with_rows).defer(*_large(kept.model, kept.names))
    return {row.pk: row for some in _parts(keys) for row in rows.filter(pk__in=some)}


def _large(model: type[Model], told: Iterable[str]) -> list[str]:
    """Columns of files and results, which nothing is told of."""
    return [
        field_.name
        for field_ in model._meta.concrete_fields
        if isinstance(field_, BinaryField | JSONField) and field_.name not in told
    ]


def _values(row: Any, like: Values) -> Values:
    """The values of a row, of the same names."""
    found = {}
    for name in like:
        field_ = row._meta.get_field(name)
        found[name] = linked(row, name) if field_.many_to_many else getattr(row, field_.attname)
    return found


def _deeds(kept: Kept, before: Values, after: Values) -> tuple[list[str], set[str]]:
    """What the changes are called, and the columns that say no more than that."""
    deeds, names = [], set()
    for name, words in kept.deeds.items():
        if before.get(name) == after.get(name):
            continue
        if isinstance(words, tuple):
            came = after[name] not in (None, False)
            if came and before[name] not in (None, False):
                continue
            deeds.append(words[0] if came else words[1])
            names.add(name)
        elif deed := words.get(after[name]):
            deeds.append(deed)
    return deeds, names


def _parts(keys: Iterable[int]) -> Iterator[list[int]]:
    ordered = sorted(keys)
    return (ordered[start : start + _AT_A_TIME] for start in range(0, len(ordered), _AT_A_TIME))
