"""Addresses: added with a secret that is shown once, tried, given another secret or token, started again, ended."""

from __future__ import annotations

import secrets
from collections.abc import Callable
from dataclasses import dataclass
from datetime import timedelta
from functools import partial

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils import timezone
from django.utils.translation import gettext, gettext_lazy

from farmbuild.api.models import Token, Webhook
from farmbuild.api.webhooks import signing
from farmbuild.api.webhooks.hosts import NotAllowed, place_of
from farmbuild.api.webhooks.selectors import tokens_to_choose, why_token_tells_nothing
from farmbuild.history.models import Entry
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User

#: In use at once, of one organisation.
MOST = 10
#: How long messages are signed by the secret before too.
OVERLAP = timedelta(hours=24)
_ENDED = gettext_lazy("This address was ended. Add it again to have it told.")


@dataclass(frozen=True)
class Shown:
    """``secret`` is shown in this moment alone."""

    webhook: Webhook
    secret: str


@needs(Act.OWN)
@transaction.atomic
def add_webhook(*, organisation: Organisation, user: User, url: str, token: Token | None) -> Shown:
    """It is told of what is changed from now on. Raises ValidationError by field."""
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    url = url.strip()
    try:
        place_of(url)
    except NotAllowed as error:
        raise ValidationError({"url": str(error)}) from error
    in_use = Webhook.objects.of(organisation).filter(ended_at=None)
    if in_use.filter(url=url).exists():
        raise ValidationError({"url": gettext("This address is told already.")})
    if in_use.count() >= MOST:
        raise ValidationError(
            gettext("%(most)s addresses are told already. End one that you do not need.") % {"most": MOST}
        )
    last = Entry.objects.filter(organisation=organisation).aggregate(last=Max("pk"))["last"] or 0
    webhook = Webhook.objects.create(
        organisation=organisation,
        url=url,
        token=_checked(organisation, token),
        ref=secrets.token_hex(8),
        nonce=signing.draw(),
        mark=last,
        state=Webhook.State.READY,
    )
    return Shown(webhook, signing.secret_of(webhook))


def _checked(organisation: Organisation, token: Token | None) -> Token:
    found = tokens_to_choose(organisation=organisation).filter(pk=token.pk).first() if token else None
    if found is None:
        raise ValidationError({"token": gettext("Choose a program that is let in.")})
    if why := why_token_tells_nothing(found):
        raise ValidationError({"token": why})
    return found


def _held(organisation: Organisation, webhook: Webhook) -> Webhook:
    """Locked. Raises ValidationError where it was ended."""
    row = Webhook.objects.of(organisation).select_for_update(of=("self",)).get(pk=webhook.pk)
    if row.ended_at:
        raise ValidationError(_ENDED)
    return row


@needs(Act.OWN)
@transaction.atomic
def change_secret(*, organisation: Organisation, user: User, webhook: Webhook) -> Shown:
    """The one before counts for a day still, so that the other side changes it when it suits."""
    row = _held(organisation, webhook)
    row.nonce_before, row.nonce, row.before_until = row.nonce, signing.draw(), timezone.now() + OVERLAP
    row.save(update_fields=["nonce_before", "nonce", "before_until"])
    return Shown(row, signing.secret_of(row))


@needs(Act.OWN)
@transaction.atomic
def change_token(*, organisation: Organisation, user: User, webhook: Webhook, token: Token | None) -> None:
    """Raises ValidationError by field."""
    row = _held(organisation, webhook)
    row.token = _checked(organisation, token)
    row.save(update_fields=["token"])


@needs(Act.OWN)
@transaction.atomic
def ask_for_trial(*, organisation: Organisation, user: User, webhook: Webhook, wake: Callable[[int], None]) -> None:
    """One at a time: asked again before it went out, it is that one. ``wake``: hands it to a worker."""
    row = _held(organisation, webhook)
    if row.trial_at is None:
        row.trial_at = timezone.now()
        row.save(update_fields=["trial_at"])
    transaction.on_commit(partial(wake, row.pk))


@needs(Act.OWN)
@transaction.atomic
def start_again(*, organisation: Organisation, user: User, webhook: Webhook, wake: Callable[[int], None]) -> None:
    """From where it stopped: nothing that was changed meanwhile is left out."""
    row = _held(organisation, webhook)
    row.stopped_at, row.why_stopped, row.tries, row.next_try_at, row.failing_since = None, "", 0, None, None
    row.save(update_fields=["stopped_at", "why_stopped", "tries", "next_try_at", "failing_since"])
    transaction.on_commit(partial(wake, row.pk))


@needs(Act.OWN)
@transaction.atomic
def stop_webhook(*, organisation: Organisation, user: User, webhook: Webhook) -> None:
    """It is told nothing until it is started again. Nothing where it stands still already."""
    row = _held(organisation, webhook)
    if row.stopped_at is None:
        row.stopped_at, row.why_stopped = timezone.now(), f"Stopped by {user.display_name}."[:300]
        row.save(update_fields=["stopped_at", "why_stopped"])


@needs(Act.OWN)
@transaction.atomic
def end_webhook(*, organisation: Organisation, user: User, webhook: Webhook) -> None:
    """For good. What is on its way arrives still."""
    row = Webhook.objects.of(organisation).select_for_update(of=("self",)).get(pk=webhook.pk)
    if row.ended_at is None:
        row.ended_at, row.trial_at = timezone.now(), None
        row.save(update_fields=["ended_at", "trial_at"])
