"""A worker tells an address what is next, one message after the other, and no later one before an earlier is taken.

A message whose worker ended before its answer was stored goes out again under the same name: at least once, and whoever
gets it knows it by the name.
"""

from __future__ import annotations

import logging
import time
from datetime import timedelta
from functools import partial

from django.conf import settings
from django.db import DatabaseError, InterfaceError, transaction
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.access import mail
from farmbuild.api.models import Attempt, Webhook
from farmbuild.api.webhooks import messages, signing
from farmbuild.api.webhooks.messages import Message
from farmbuild.api.webhooks.posting import GONE, Answer, post
from farmbuild.api.webhooks.selectors import why_token_tells_nothing
from farmbuild.common.long_work import Claim, run_claimed
from farmbuild.history.selectors import entries_after
from farmbuild.orgs.acts import Act, who_may
from farmbuild.orgs.addresses import prefix_in_force, prefix_of
from farmbuild.orgs.languages import in_language_of

logger = logging.getLogger(__name__)
#: Seconds of one go; then others that wait for a worker come first.
A_GO = 20
#: Waits after tries that failed: twice as long each time, up to the longest. The last try is about three days after the
#: first, and then it is stopped.
FIRST_WAIT, LONGEST_WAIT, MOST_TRIES = timedelta(minutes=1), timedelta(hours=6), 20
#: Answers that are kept of each address.
KEPT = 50
_AT_A_TIME = 50
_FAULT = "A fault in the program. Whoever runs the server finds it in the log."


def work_on_webhook(webhook_id: int) -> None:
    """Does nothing where nothing is due, or another worker has it."""
    run_claimed(Webhook, webhook_id, _work, unexpected=_FAULT)


def wait_after(tries: int) -> timedelta:
    """After so many tries of one message that failed."""
    return min(FIRST_WAIT * 2 ** min(tries - 1, 20), LONGEST_WAIT)


def _work(claim: Claim) -> None:
    until = time.monotonic() + A_GO
    going = True
    while going and time.monotonic() < until:
        going = _next(claim, until)
    claim.finish()


def _row(claim: Claim) -> Webhook:
    rows = Webhook.objects.select_related("organisation", "token__user", "token__organisation")
    return rows.get(pk=claim.pk)


def _next(claim: Claim, until: float) -> bool:
    """Tell it the next messages; whether there may be more."""
    webhook = _row(claim)
    if webhook.ended_at:
        return False
    if webhook.trial_at:
        message = messages.trial(webhook, webhook.trial_at)
        _keep_trial(claim, webhook, message, _send(claim, webhook, message))
        return True
    if webhook.stopped_at or (webhook.next_try_at and webhook.next_try_at > timezone.now()):
        return False
    if why := why_token_tells_nothing(webhook.token):
        _stop(claim, webhook, f"{why} Choose another, then start it again.")
        return False
    entries, _ = entries_after(organisation=webhook.organisation, mark=webhook.mark, most=_AT_A_TIME)
    for entry in entries:
        message = messages.change(webhook, entry)
        answer = _send(claim, webhook, message)
        _keep(claim, webhook, message, answer)
        if not answer.taken:
            return False
        if time.monotonic() >= until:
            break
        webhook = _row(claim)
        if webhook.ended_at or webhook.stopped_at or webhook.trial_at:
            # Said while it was sent.
            return True
    return bool(entries)


def _send(claim: Claim, webhook: Webhook, message: Message) -> Answer:
    claim.note(0, 0, "Sending")
    headers = signing.headers_of(webhook, message=message.name, body=message.body, now=timezone.now())
    try:
        answer = post(webhook.url, message.body, {"Content-Type": "application/json", **headers})
    except (DatabaseError, InterfaceError):
        raise
    except Exception:
        logger.exception("%s could not be told", webhook.url)
        answer = Answer(0, _FAULT)
    level = logging.INFO if answer.taken else logging.WARNING
    logger.log(level, "Webhook %s of %s: %s", webhook.pk, webhook.organisation.slug, answer.words)
    return answer


def _keep_trial(claim: Claim, webhook: Webhook, message: Message, answer: Answer) -> None:
    with transaction.atomic():
        # Where it works again, what waits need not wait.
        claim.hold(trial_at=None, **({"next_try_at": None} if answer.taken else {}))
        _write(webhook, message, answer, 1)


def _keep(claim: Claim, webhook: Webhook, message: Message, answer: Answer) -> None:
    now, number = timezone.now(), webhook.tries + 1
    with transaction.atomic():
        if answer.taken:
            claim.hold(mark=message.mark, tries=0, next_try_at=None, failing_since=None)
        else:
            since = webhook.failing_since or now
            claim.hold(tries=number, next_try_at=now + wait_after(number), failing_since=since)
            if number >= MOST_TRIES or answer.status == GONE:
                _stop(claim, webhook, f"{answer.words} Nothing was taken in {number} tries."[:300])
        _write(webhook, message, answer, number)


def _write(webhook: Webhook, message: Message, answer: Answer, number: int) -> None:
    Attempt.objects.create(
        webhook=webhook, mark=message.mark, number=number, status=answer.status, words=answer.words[:200]
    )
    kept = Attempt.objects.filter(webhook=webhook).order_by("-pk").values_list("pk", flat=True)[KEPT - 1 : KEPT]
    for oldest in kept:
        Attempt.objects.filter(webhook=webhook, pk__lt=oldest).delete()


def _stop(claim: Claim, webhook: Webhook, why: str) -> None:
    with transaction.atomic():
        claim.hold(stopped_at=timezone.now(), why_stopped=why)
        transaction.on_commit(partial(_tell, webhook, why), robust=True)


def _tell(webhook: Webhook, why: str) -> None:
    """Whoever may start it again, where e-mail is set up; the pages say it anyway."""
    if not mail.is_set_up():
        return
    organisation = webhook.organisation
    with prefix_in_force(prefix_of(organisation.slug)):
        page = reverse("api:webhook", args=[webhook.pk])
    site = f"https://{settings.PUBLIC_HOSTS[0]}" if settings.PUBLIC_HOSTS else ""
    for user in who_may(organisation=organisation, act=Act.OWN):
        if user.email:
            with in_language_of(user, organisation):
                mail.send(
                    to=user.email,
                    subject=gettext("%(organisation)s: an address is told of changes no more")
                    % {"organisation": organisation},
                    template="api/mail/stopped.txt",
                    user=user,
                    organisation=organisation,
                    webhook=webhook,
                    why=why,
                    page=f"{site}{page}" if site else "",
                )
