"""What people changed, in one order, from a mark on."""

from datetime import date, datetime
from typing import Any
from uuid import UUID

from django.http import HttpRequest
from ninja import Router, Schema

from farmbuild.api.door import Bearer
from farmbuild.api.marks import Mark, Part
from farmbuild.api.opening import reads
from farmbuild.api.values import field, plain_text
from farmbuild.history.models import Entry
from farmbuild.history.selectors import entries_after
from farmbuild.measure import amounts_shown
from farmbuild.orgs.acts import Act

router = Router(tags=["changes"])


class ValueOut(Schema):
    """One of these; none of them for nothing."""

    text: str | None = None
    mm: str | None = field("A length.", None)
    mms: list[str] | None = field("Lengths.", None)
    number: str | None = None
    amount: str | None = None
    currency: str | None = None
    day: date | None = None
    at: datetime | None = None


class ChangeOut(Schema):
    what: str
    part: str = field("Of which part of the record; empty: of itself.")
    before: ValueOut | None
    after: ValueOut | None


class EntryOut(Schema):
    id: int
    act: UUID = field("What one person did in one go has one of these.")
    at: datetime
    who: str
    deed: str
    kind: str = field("Of what kind the record is.")
    name: str
    key: str = field("By what its page and its address here find it; empty where it has none.")
    removed: bool
    changes: list[ChangeOut]


class Changes(Schema):
    items: list[EntryOut]
    next: Mark = field("Send it as `after` for what follows, now or another day.")


_NAMES = {
    "t": "text",
    "mm": "mm",
    "mms": "mms",
    "n": "number",
    "m": "amount",
    "c": "currency",
    "day": "day",
    "at": "at",
}


def _value(said: dict[str, Any] | None) -> dict[str, Any] | None:
    if said is None:
        return None
    found = {name: said[key] for key, name in _NAMES.items() if key in said}
    for name in ("mm", "number", "amount"):
        if name in found:
            found[name] = plain_text(found[name])
    if "mms" in found:
        found["mms"] = [plain_text(each) for each in found["mms"]]
    return found


def entry_out(entry: Entry, *, costs: bool) -> dict[str, Any]:
    told = (change for change in entry.changes if costs or not change.get("costs"))
    return {
        "id": entry.pk,
        "act": entry.act,
        "at": entry.at,
        "who": entry.who,
        "deed": entry.deed,
        "kind": entry.kind,
        "name": entry.name,
        "key": entry.address_key,
        "removed": entry.removed,
        "changes": [
            {
                "what": change["l"],
                "part": change.get("p", ""),
                "before": _value(change["a"]),
                "after": _value(change["b"]),
            }
            for change in told
        ],
    }


@reads(router, "/changes", "changes", Changes, Bearer(Act.SEE), "What people changed since a mark")
def changes(request: HttpRequest, asked: Part):
    entries, mark = entries_after(organisation=request.organisation, mark=int(asked.after or 0), most=asked.limit)
    return {"items": [entry_out(entry, costs=amounts_shown()) for entry in entries], "next": str(mark)}
