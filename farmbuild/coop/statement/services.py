"""A statement goes out once: numbered, frozen with its files, and followed by the next one."""

from __future__ import annotations

from datetime import date
from hashlib import sha256

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.utils.translation import gettext

from farmbuild.common.speaking import said_day
from farmbuild.coop.models import SentStatement
from farmbuild.coop.statement.files import statement_pdf, statement_workbook
from farmbuild.coop.statement.frozen import frozen_statement
from farmbuild.coop.statement.selectors import last_sent_of, statement_of, unsent_from
from farmbuild.crew.models import Member
from farmbuild.crew.people.services import check_owner
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.clock import today_of
from farmbuild.orgs.currency import lock_currency
from farmbuild.orgs.models import Organisation, User


@needs(Act.PLAN)
@transaction.atomic
def send_statement(*, organisation: Organisation, user: User, member: Member, last: date) -> SentStatement:
    """From the day after the statement before it to ``last``. Nobody is written to: it is numbered, and stays as it is.

    Raises ValidationError at "last": these days went out already, or are not over.
    """
    check_owner(organisation, {"member": member})
    # Whoever posts waits for this, so that each entry is in this statement or in the next one.
    lock_currency(organisation=organisation)
    if last > today_of(organisation=organisation):
        raise ValidationError({"last": gettext("A statement is of days that are over. Type today or an earlier day.")})
    before = last_sent_of(member=member)
    if before and last <= before.last:
        raise ValidationError(
            {
                "last": gettext(
                    "%(reference)s went out for these days already, up to %(last)s. What was posted since stands "
                    "in the next one: type a later day."
                )
                % {"reference": before.reference, "last": said_day(before.last)}
            }
        )
    first = unsent_from(member=member, day=last)
    statement = statement_of(member=member, first=first, last=last)
    number = (SentStatement.objects.of(organisation).aggregate(last=Max("number"))["last"] or 0) + 1
    row = SentStatement(
        organisation=organisation,
        number=number,
        member=member,
        first=first,
        last=last,
        currency=organisation.currency,
        opening=statement.opening,
        closing=statement.closing,
        through=statement.through,
        sent_by=user,
    )
    row.shown = frozen_statement(statement, organisation=organisation, number=row.reference)
    row.pdf, row.workbook = statement_pdf(row.shown), statement_workbook(row.shown)
    row.sha256, row.workbook_sha256 = sha256(row.pdf).hexdigest(), sha256(row.workbook).hexdigest()
    row.full_clean(exclude=["organisation"], validate_unique=False, validate_constraints=False)
    row.save(force_insert=True)
    return row
