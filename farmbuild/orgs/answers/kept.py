"""What was worked out once of the rows of an organisation, and stands until one of them changes."""

from __future__ import annotations

from collections.abc import Callable, Collection
from datetime import datetime
from functools import cached_property
from hashlib import blake2b
from typing import Any, TypeVar

from django.core.cache import cache
from django.db.models import Model
from django.http import HttpRequest
from django.template.loader import render_to_string
from django.urls import get_script_prefix
from django.utils import timezone, translation
from django.utils.safestring import SafeString

from farmbuild.common.reading import units_of
from farmbuild.measure import amounts_shown, current_style
from farmbuild.orgs.answers.content import contents_of, digests_of, standing_for, told, usual, values_of
from farmbuild.orgs.answers.reading import note, tables_read
from farmbuild.orgs.clock import today_of, zone_of
from farmbuild.orgs.models import Organisation

Answer = TypeVar("Answer")
#: Seconds; an answer is good for as long as its key is, and this only bounds what is kept.
_KEPT = 24 * 60 * 60
_NOTHING = object()
#: Rows beyond which reading them all takes longer than the cheaper pages; and for how long that is taken to stay so.
MANY, _LARGE_FOR = 5_000, 10 * 60
#: What is pressed and planned day by day, for parts that are told of none of it; and what parts of crews are not.
WORK = frozenset(
    f"crew.{name}"
    for name in (
        "Actual", "DayOff", "HourApproval", "HourCorrection", "OtherWork", "ProblemPhoto", "ProblemSettled", "Schedule",
        "Task", "WindForecast", "WindLimit",
    )
)  # fmt: skip
GOODS = frozenset({"buying", "catalogue", "coop", "plans", "stock"})
#: By name of an answer that is watched: what its work was seen to read, and what is shown of whoever works here.
_seen: dict[str, frozenset[str]] = {}
_ALWAYS = frozenset({"orgs.Membership", "orgs.Organisation"})
#: By the first of a page, all that it watches: what they rest on is read at once.
_together: dict[str, frozenset[str]] = {}


class Answers:
    """Those of one page for one reader; the rows are read once, when the first is asked for.

    An answer is put by as a copy (it is pickled), and depends on nothing but the rows, the day, language, units,
    numbers and rights of the reader, and what is given ``by``.
    """

    def __init__(self, request: HttpRequest, *, dear: bool = False) -> None:
        """``dear``: its parts take longer than all rows of a large organisation take to read."""
        self.request = request
        self.dear = dear
        self.organisation: Organisation = request.organisation
        self.acts = tuple(sorted(request.acts))
        self.now: datetime = timezone.now()
        #: What was worked out, by what it is told of and the tables that it rests on.
        self._new: dict[tuple[str, frozenset[str]], Any] = {}
        self._before: dict[str, bytes] = {}
        self._first = ""

    def __enter__(self) -> Answers:
        return self

    def __exit__(self, kind: type[BaseException] | None, *more: object) -> None:
        """What others wrote meanwhile may be in it; then it is not the answer of the rows that were read."""
        if kind is None and self._new:
            every = frozenset().union(*(labels for _, labels in self._new))
            after = digests_of(organisation=self.organisation, labels=every)
            # Of what was read for the first time nothing tells whether it changed while it was.
            stands = {label for label in every if self._before.get(label) == after[label]}
            same = {self._key(said, labels): found for (said, labels), found in self._new.items() if labels <= stands}
            cache.set_many(same, _KEPT)

    def _read(self, labels: frozenset[str] | None = None) -> None:
        """Digests that stand for what is loaded from now on; ``labels``: the usual ones."""
        wanted = frozenset(usual()) if labels is None else labels
        if wanted <= self._before.keys():
            return
        digests, rows = contents_of(organisation=self.organisation, labels=wanted)
        if labels is None and rows > MANY:
            cache.set(self._large, True, _LARGE_FOR)
        self._before = digests | self._before

    @property
    def _large(self) -> str:
        return f"answers-large-{self.organisation.pk}"

    @cached_property
    def keeps(self) -> bool:
        """Of an organisation of many rows only what is dear is: the rest is sooner worked out than they are read."""
        return self.dear or not cache.get(self._large)

    def read(self) -> None:
        """Before something is loaded that parts are made of: of what changes from now on none is kept."""
        if self.keeps:
            self._read()

    @cached_property
    def _reader(self) -> tuple[Any, ...]:
        return (
            values_of(self.organisation),
            today_of(organisation=self.organisation),
            get_script_prefix(),
            translation.get_language(),
            timezone.get_current_timezone_name(),
            units_of(self.organisation),
            current_style(),
            amounts_shown(),
            self.acts,
        )

    @property
    def minute(self) -> str:
        """What is told by the clock is told by its minutes, and is put ``by`` them."""
        return f"{self.now.astimezone(zone_of(organisation=self.organisation)):%Y-%m-%d %H:%M %z}"

    def shown(self, template: str, **context: Any) -> SafeString:
        """A part of the page, as the page would have it in the place of an include."""
        return render_to_string(template, context, self.request)

    def get(self, name: str, work: Callable[[], Answer], *by: object, without: Collection[str] = ()) -> Answer:
        """None is not kept.

        ``by``: a row that was loaded before stands for what it says, as it may have changed since then.

        ``without``: apps, or labels of tables, of which ``work`` reads no row; tests hold it to that.
        """
        if not self.keeps:
            return work()
        self._read()
        labels = frozenset(
            label for label in usual() if label not in without and label.partition(".")[0] not in without
        )
        said = self._said(name, by)
        found = cache.get(self._key(said, labels), _NOTHING)
        if found is _NOTHING:
            found = work()
            if found is not None:
                self._new[said, labels] = found
        else:
            note(labels)
        return found

    def watched(self, name: str, work: Callable[[], Answer], *by: object) -> Answer:
        """As ``get``, of ``work`` that loads all it shows itself or is told of it ``by``: it is watched, and what it
        made stands until a row changes of a table that it was seen to read. Where one is left out, nothing is kept."""
        if not self.keeps:
            return work()
        self._first = self._first or name
        with_it = _together[self._first] = _together.get(self._first, frozenset()) | {name}
        labels = _seen.get(name, told())
        self._read(labels.union(*(_seen.get(one, told()) for one in with_it)))
        # Before it works: rows that it is told of may load others.
        said = self._said(name, by)
        found = cache.get(self._key(said, labels), _NOTHING)
        if found is not _NOTHING:
            note(labels)
            return found
        with tables_read() as tables:
            found = work()
        read = standing_for(tables)
        if read is not None and found is not None:
            seen = _seen[name] = _seen.get(name, _ALWAYS) | read
            self._new[said, seen] = found
        return found

    def _said(self, name: str, by: tuple[object, ...]) -> str:
        return repr((name, [values_of(each) if isinstance(each, Model) else each for each in by], self._reader))

    def _key(self, said: str, labels: frozenset[str]) -> str:
        rows = blake2b(digest_size=20)
        for label in sorted(labels):
            rows.update(label.encode() + self._before[label])
        return f"answer-{blake2b(said.encode() + rows.digest(), digest_size=20).hexdigest()}"
