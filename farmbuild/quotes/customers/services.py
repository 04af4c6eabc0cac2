"""Writes of customers: one transaction a user action."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext

from farmbuild.common.slugs import free_slug
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.quotes.models import Customer, Job

#: Last parts of addresses that pages use.
RESERVED = frozenset({"new"})
FIELDS = ("name", "contact", "email", "phone", "address", "note")


@needs(Act.PLAN)
@transaction.atomic
def save_customer(
    *, organisation: Organisation, user: User, data: Mapping[str, Any], customer: Customer | None = None
) -> Customer:
    """Adds one, or stores ``customer`` anew; its address stays. Raises ValidationError by field."""
    # Two who add at once never get one address for both.
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    rows = Customer.objects.of(organisation)
    current = rows.get(pk=customer.pk) if customer else Customer(organisation=organisation)
    for name in FIELDS:
        if name in data:
            setattr(current, name, data[name])
    if not current.pk:
        current.slug = free_slug(current.name, taken_in=rows, fallback="customer", reserved=RESERVED)
    current.full_clean(validate_unique=False, validate_constraints=False)
    current.save()
    return current


@needs(Act.PLAN)
@transaction.atomic
def archive_customer(*, organisation: Organisation, user: User, customer: Customer) -> None:
    """Raises ValidationError while a job of theirs is not over."""
    # The lock under which jobs are made: of a job that is not stored yet the customer's own row knows nothing.
    Organisation.objects.select_for_update(no_key=True).get(pk=organisation.pk)
    current = Customer.objects.of(organisation).get(pk=customer.pk)
    if job := current.jobs.filter(state__in=Job.LIVE, archived_at=None).first():
        raise ValidationError(
            gettext("%(reference)s of %(current)s is not over. Finish it, or say that it is lost, first.")
            % {"reference": job.reference, "current": current}
        )
    current.archived_at = timezone.now()
    current.save(update_fields=["archived_at"])


@needs(Act.PLAN)
@transaction.atomic
def bring_back_customer(*, organisation: Organisation, user: User, customer: Customer) -> None:
    current = Customer.objects.of(organisation).select_for_update().get(pk=customer.pk)
    current.archived_at = None
    current.save(update_fields=["archived_at"])
