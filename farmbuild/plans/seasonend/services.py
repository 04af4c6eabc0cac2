"""Throwing out the offcuts that were ticked, all of them or none."""

from __future__ import annotations

from collections.abc import Sequence

from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils.translation import gettext

from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User
from farmbuild.stock.models import Lot, Movement
from farmbuild.stock.services import scrap


@needs(Act.STOCK)
@transaction.atomic
def scrap_offcuts(
    *, organisation: Organisation, user: User, takes: Sequence[tuple[int, int]], reason: str, paper: str = ""
) -> list[Movement]:
    """``takes``: lot key and pieces. Raises ValidationError with a sentence for each lot that cannot go."""
    if not takes:
        raise ValidationError(gettext("Tick at least one lot."))
    wanted = dict(takes)
    if len(wanted) < len(takes):
        raise ValidationError(gettext("A lot is ticked twice. Go back and tick again."))
    lots = Lot.objects.of(organisation).filter(pk__in=wanted, offcut=True).order_by("pk")
    if len(lots) < len(wanted):
        raise ValidationError(gettext("Some of these are no offcuts in stock any more. Go back and tick again."))
    made, refused = [], []
    for lot in lots:
        try:
            made.append(
                scrap(
                    organisation=organisation,
                    user=user,
                    lot=lot,
                    quantity=wanted[lot.pk],
                    reason=reason,
                    paper=paper,
                )
            )
        except ValidationError as error:
            if "reason" in getattr(error, "error_dict", {}):
                raise
            refused += [f"{lot}: {message}" for message in error.messages]
    if refused:
        raise ValidationError([*refused, gettext("Nothing was taken out. Go back and tick again.")])
    return made
