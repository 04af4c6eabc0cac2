"""A form of many rows put in by one press: all of them or none, with errors at their rows."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from django.core.exceptions import ValidationError
from django.db import transaction

from farmbuild.catalogue.models import Material
from farmbuild.coop.joint.own import store_plan
from farmbuild.coop.joint.rules import check_own, check_takes_more, lock_joint
from farmbuild.coop.joint.services import put_in
from farmbuild.coop.models import JointNeed, JointOrder
from farmbuild.crew.models import Member
from farmbuild.orgs.acts import Act, needs
from farmbuild.orgs.models import Organisation, User


def put_all_in(
    *,
    organisation: Organisation,
    user: User | None,
    joint: JointOrder,
    material: Material,
    length: Decimal | None,
    pieces: Mapping[Member, int],
) -> list[JointNeed | None]:
    """Within the caller's transaction. Raises ValidationError: of pieces at ``pieces-KEY`` of their member."""
    done, wrong = [], {}
    for member, quantity in pieces.items():
        try:
            done.append(
                put_in(
                    organisation=organisation,
                    user=user,
                    joint=joint,
                    member=member,
                    material=material,
                    length=length,
                    quantity=quantity,
                )
            )
        except ValidationError as error:
            if not hasattr(error, "error_dict"):
                raise
            fields = error.message_dict
            if "quantity" in fields:
                wrong[f"pieces-{member.pk}"] = fields.pop("quantity")
            wrong |= fields
    if wrong:
        raise ValidationError(wrong)
    return done


@needs(Act.PLAN)
@transaction.atomic
def collect_plans(
    *,
    organisation: Organisation,
    user: User | None,
    joint: JointOrder,
    wanted: Sequence[tuple[Member, int, str]],
) -> list[JointNeed]:
    """What the accepted plans of members buy: (member, number of its plan, what was seen of it). All or none.

    Raises ValidationError where one of them changed since it was seen.
    """
    check_own(organisation, joint=joint)
    current = lock_joint(joint)
    check_takes_more(current)
    done: list[JointNeed] = []
    for member, plan, seen in wanted:
        check_own(organisation, member=member)
        done += store_plan(current, member, plan, seen, user)
    return done
