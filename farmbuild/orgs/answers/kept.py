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
from farmbuild.orgs.answers.content import contents_of, digests_of, values_of
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
        self._new: dict[str, tuple[Any, Collection[str]]] = {}

    def __enter__(self) -> Answers:
        return self

    def __exit__(self, kind: type[BaseException] | None, *more: object) -> None:
        """What others wrote meanwhile may be in it; then it is not the answer of the rows that were read."""
        if kind is None and self._new:
            after = digests_of(organisation=self.organisation)
            same = {
                key: found
                for key, (found, without) in self._new.items()
                if self._rows(without, after) == self._rows(without)
            }
            cache.set_many(same, _KEPT)

    @cached_property
    def _digests(self) -> dict[str, bytes]:
        digests, rows = contents_of(organisation=self.organisation)
        if rows > MANY:
            cache.set(self._large, True, _LARGE_FOR)
        return digests

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
            _ = self._digests

    def _rows(self, without: Collection[str], digests: dict[str, bytes] | None = None) -> str:
        whole = blake2b(digest_size=20)
        for label, digest in (self._digests if digests is None else digests).items():
            if label not in without and label.partition(".")[0] not in without:
                whole.update(digest)
        return whole.hexdigest()

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
        told = [values_of(each) if isinstance(each, Model) else each for each in by]
        said = repr((name, told, self._reader, self._rows(without)))
        key = f"answer-{blake2b(said.encode(), digest_size=20).hexdigest()}"
        found = cache.get(key, _NOTHING)
        if found is _NOTHING:
            found = work()
            if found is not None:
                self._new[key] = (found, without)
        return found
