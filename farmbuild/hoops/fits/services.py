"""Writes of fits: every save is a new one, so that nothing measured is ever lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.hoops.fits.models import FitReading, HouseFit
from farmbuild.hoops.fits.rows import Reading, row_problems
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.sites.bridge import shape_of, spec_problems
from farmbuild.sites.models import House


@needs(Act.RECORD)
@transaction.atomic
def save_fit(
    *,
    organisation: Organisation,
    user: User,
    house: House,
    readings: Sequence[Reading],
    tolerance: Decimal,
    span_tolerance: Decimal,
    slope: Decimal | None,
) -> HouseFit:
    """``house`` comes with its recipe and materials loaded; ``slope`` is rise over run towards the back, None for
    whatever line needs the least moving. Raises ValidationError by the field names of ``rows``; nothing is stored then.
    """
    if house.organisation_id != organisation.pk:
        raise ValidationError(gettext("This house belongs to someone else."))
    if spec_problems(house, organisation.unit_system):
        raise ValidationError(gettext("The house cannot be built as it is specified. Correct its spec first."))
    if not readings:
        raise ValidationError(gettext("No hoop is measured yet. Type the ridge height of one hoop or more."))
    shape = shape_of(house)
    problems = row_problems(
        readings,
        hoops=shape.hoops,
        post_span=shape.span,
        socket_depth=shape.socket_depth,
        units=organisation.unit_system,
    )
    if problems:
        raise ValidationError(problems)
    fit = HouseFit(
        organisation=organisation,
        house=house,
        hoops=shape.hoops,
        post_span=shape.span,
        tolerance=tolerance,
        span_tolerance=span_tolerance,
        slope=slope,
        by=user,
    )
    fit.full_clean()
    fit.save()
    rows = [FitReading(fit=fit, place=shape.hoop_positions[row.hoop - 1], **asdict(row)) for row in readings]
    for row in rows:
        # The fit is new, so its row and the numbers of its hoops need no look into the database.
        row.full_clean(exclude={"fit"}, validate_unique=False, validate_constraints=False)
    FitReading.objects.bulk_create(rows)
    return fit
