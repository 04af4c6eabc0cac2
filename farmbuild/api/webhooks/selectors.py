"""Addresses, what is due to be sent, and whether their token lets them be told still."""

from __future__ import annotations

from django.db.models import Exists, OuterRef, Q, QuerySet
from django.utils import timezone

from farmbuild.api.models import Attempt, Token, Webhook
from farmbuild.api.scopes import Scope
from farmbuild.common.long_work import SILENCE
from farmbuild.history.models import Entry
from farmbuild.orgs.acts import Act, acts_of
from farmbuild.orgs.models import Organisation

State = Webhook.State


def webhooks_of(*, organisation: Organisation, ended: bool = False) -> QuerySet[Webhook]:
    """With what was answered last in ``last_words``. ``ended``: those that were ended too."""
    newest = Attempt.objects.filter(webhook=OuterRef("pk")).order_by("-pk")
    rows = Webhook.objects.of(organisation).select_related("token")
    if not ended:
        rows = rows.filter(ended_at=None)
    return rows.annotate(last_words=newest.values("words")[:1]).order_by("-made_at", "-pk")


def attempts_of(*, webhook: Webhook) -> QuerySet[Attempt]:
    """The newest in front."""
    return webhook.attempts.order_by("-pk")


def stopped_webhooks(*, organisation: Organisation) -> QuerySet[Webhook]:
    return Webhook.objects.of(organisation).filter(ended_at=None).exclude(stopped_at=None)


def tokens_to_choose(*, organisation: Organisation) -> QuerySet[Token]:
    """Those that let a program in now."""
    rows = Token.objects.of(organisation).filter(ended_at=None, ends_at__gt=timezone.now())
    return rows.select_related("user", "organisation").order_by("name", "pk")


def why_token_tells_nothing(token: Token | None) -> str:
    """Empty where whoever has it may read what changed."""
    if token is None:
        return "The program whose token it had is let in no more."
    if token.is_over:
        return f"The token of {token.name} is over."
    if Scope.READ not in token.scopes:
        return f"The token of {token.name} may not read houses, stock, plans, orders and work."
    if Act.SEE not in acts_of(organisation=token.organisation, user=token.user):
        return f"{token.user.display_name} may not see the pages, so the token of {token.name} may not either."
    return ""


def due(rows: QuerySet[Webhook]) -> QuerySet[Webhook]:
    """Of these, those for which a worker has something to do and none has it."""
    now = timezone.now()
    more = Exists(Entry.objects.filter(organisation=OuterRef("organisation"), pk__gt=OuterRef("mark")))
    waits = Q(stopped_at=None) & (Q(next_try_at=None) | Q(next_try_at__lte=now)) & more
    # After a fault of the program it is tried again, but not at once.
    free = Q(state=State.READY) | Q(state=State.FAILED, heard_from_at__lt=now - SILENCE)
    return rows.filter(free, Q(trial_at__isnull=False) | waits, ended_at=None)
