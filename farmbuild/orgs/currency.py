"""The currency of an organisation: it changes while nothing is priced in it, and no price is stored in an old one."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db.models import Count, Q
from django.utils.translation import gettext, ngettext

from farmbuild.common.speaking import said, said_list
from farmbuild.orgs.models import Organisation
from farmbuild.orgs.signals import asking_what_is_priced


def why_fixed(organisation: Organisation, *, lock: bool = False) -> str:
    """Why the currency stays, in a sentence; empty while nothing is priced in it.

    ``lock``: what is being stored is waited for, and nothing more is until the transaction ends.
    """
    priced = _limits_of(organisation)
    answers = asking_what_is_priced.send(Organisation, organisation=organisation, lock=lock)
    priced += [said(words) for _, found in answers for words in found]
    if not priced:
        return ""
    return gettext("It stays %(currency)s, in which there are %(priced)s. Figures would mean other money.") % {
        "currency": organisation.currency,
        "priced": said_list(priced),
    }


def _limits_of(organisation: Organisation) -> list[str]:
    limited = Count("memberships", filter=Q(memberships__send_limit__isnull=False))
    rows = Organisation.objects.annotate(limited=limited)
    above, people = rows.values_list("two_people_above", "limited").get(pk=organisation.pk)
    limits = ngettext("%(count)s limit of a person", "%(count)s limits of people", people) % {"count": people}
    return [limits] * bool(people) + [gettext("the amount for two people")] * (above is not None)


def check_currency(*, organisation: Organisation) -> None:
    """Raise ValidationError where the currency is another than when the page was asked for.

    The caller holds the lock under which a change of currency looks for what it is about to store.
    """
    now = Organisation.objects.values_list("currency", flat=True).get(pk=organisation.pk)
    if now != organisation.currency:
        raise ValidationError(
            gettext("The currency was changed to %(now)s meanwhile. Look at the amounts, then save again.")
            % {"now": now}
        )


def lock_currency(*, organisation: Organisation) -> None:
    """Hold the organisation, so that its currency stays until the price is stored."""
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    check_currency(organisation=organisation)
