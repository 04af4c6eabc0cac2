"""What an address is told: that something changed, and where to ask what; never a value, a name or an amount."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Literal

from django.conf import settings
from django.urls import NoReverseMatch
from ninja import Schema

from farmbuild.api.marks import Mark
from farmbuild.api.models import Webhook
from farmbuild.api.values import field
from farmbuild.history.models import Entry
from farmbuild.orgs.addresses import reverse_outside
from farmbuild.stock.models import Lot

#: Kinds of records of which a question of this interface answers one, named as they are.
_ANSWERED = frozenset({"site", "house", "lot", "plan", "order", "task", "job"})


class ChangedData(Schema):
    mark: Mark = field("Its place in the order of all changes; what came before has a smaller one.")
    organisation: str
    kind: str = field("Of what kind the record is.")
    key: str = field("By what it is found; empty where it has no page.")
    address: str = field("Where this interface answers it, or its changes where it has no answer of its own.")
    removed: bool


class ChangeMessage(Schema):
    type: Literal["change"]
    timestamp: datetime = field("When it was changed.")
    data: ChangedData


class TrialData(Schema):
    organisation: str


class TrialMessage(Schema):
    type: Literal["trial"]
    timestamp: datetime
    data: TrialData


@dataclass(frozen=True)
class Message:
    """``name`` stays the same however often it is sent. ``mark``: of its entry; none of a trial."""

    name: str
    body: bytes
    mark: int | None = None


def change(webhook: Webhook, entry: Entry) -> Message:
    data = {
        "mark": str(entry.pk),
        "organisation": webhook.organisation.slug,
        "kind": entry.kind,
        "key": entry.address_key,
        "address": _whole(_address_of(entry)),
        "removed": entry.removed,
    }
    return Message(f"msg_{webhook.ref}_{entry.pk}", _body("change", entry.at, data), entry.pk)


def trial(webhook: Webhook, at: datetime) -> Message:
    name = f"msg_{webhook.ref}_trial_{int(at.timestamp())}"
    return Message(name, _body("trial", at, {"organisation": webhook.organisation.slug}))


def _body(kind: str, at: datetime, data: dict[str, Any]) -> bytes:
    told = {"type": kind, "timestamp": at.isoformat(), "data": data}
    return json.dumps(told, separators=(",", ":")).encode()


def _address_of(entry: Entry) -> str:
    if entry.kind in _ANSWERED and not entry.removed:
        key: str | None = entry.address_key
        if entry.kind == "lot":
            lots = Lot.objects.filter(organisation=entry.organisation_id, pk=entry.record)
            key = lots.values_list("reference", flat=True).first()
        try:
            return reverse_outside(f"api-1:{entry.kind}", key)
        except NoReverseMatch:
            # It is gone, or was called so that no address can have it.
            pass
    return f"{reverse_outside('api-1:changes')}?after={entry.pk - 1}&limit=1"


def _whole(path: str) -> str:
    return f"https://{settings.PUBLIC_HOSTS[0]}{path}" if settings.PUBLIC_HOSTS else path
