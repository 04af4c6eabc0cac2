"""What a plan tries of a supplier has to be agreed on before anything is ordered by it."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.utils.translation import gettext

from farmbuild.catalogue.selectors import suppliers_of
from farmbuild.measure import format_money
from farmbuild.plans.models import Plan
from farmbuild.plans.savings.bridge import NoLeast, change_of


def refuse_small_orders(plan: Plan) -> None:
    """Raises ValidationError for a plan that tries orders of any size, while the supplier takes none below a sum."""
    change = change_of(plan.tried) if plan.tried else None
    if not isinstance(change, NoLeast):
        return
    supplier = suppliers_of(organisation=plan.organisation).filter(code=change.supplier).first()
    if supplier is None or not supplier.minimum_order:
        return
    least = format_money(supplier.minimum_order, plan.organisation.currency)
    raise ValidationError(
        gettext(
            "This plan tries orders of any size, and %(supplier_name)s takes none below %(least)s. "
            "Ask them; once they agree, change the least order on the page of the supplier."
        )
        % {"supplier_name": supplier.name, "least": least}
    )
