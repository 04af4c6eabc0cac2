from __future__ import annotations

from typing import Any

import django_tables2 as tables
from django.urls import reverse
from django.utils.translation import gettext, gettext_lazy

from farmbuild.common.speaking import said_count
from farmbuild.common.tables import FarmTable
from farmbuild.common.templatetags.farm import moment
from farmbuild.history.models import Entry
from farmbuild.history.presenters import changes_of, others_words, record_words
from farmbuild.history.words import said_deed
from farmbuild.measure.speech import gettext_noop

#: Changes that a line of the list has room for; the page of the act has all.
_FEW = 2
_NOUNS = (gettext_noop("more change"), gettext_noop("more changes"))


class EntryTable(FarmTable):
    """An entry a row, which leads to the act. ``costs``: whether what costs is shown."""

    phone = (("record",), ("who", "at"))
    phone_words = {"who": "", "at": ""}

    record = tables.Column(gettext_lazy("Record"), accessor="pk")
    who = tables.Column(gettext_lazy("Who did what"), accessor="pk")
    changes = tables.Column(gettext_lazy("From what to what"), accessor="pk", default="")
    at = tables.Column(gettext_lazy("When"))

    class Meta:
        model = Entry
        fields = ("record", "who", "changes", "at")
        orderable = False
        empty_text = gettext_lazy("Nobody changed anything of that kind then.")

    def __init__(self, *args: Any, costs: bool, grouped: bool, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.costs, self.grouped = costs, grouped

    def row_link(self, record: Entry) -> str:
        return reverse("history:act", args=[record.act])

    def render_record(self, record: Entry) -> str:
        words = record_words(record)
        others = others_words(record) if self.grouped else ""
        return f"{words[:1].upper()}{words[1:]} {others}".strip()

    def render_who(self, record: Entry) -> str:
        return gettext("%(who)s %(deed)s it") % {"who": record.who, "deed": said_deed(record.deed)}

    def render_changes(self, record: Entry) -> str:
        changes = changes_of(record, self.organisation, costs=self.costs)
        words = "; ".join(change.sentence for change in changes[:_FEW])
        more = len(changes[_FEW:])
        return f"{words}; {said_count(more, 'more change')}" if more else words

    def render_at(self, value: Any) -> str:
        return moment(value)
