"""The arithmetic of contracts and their bills, from planning."""

from farmbuild.planning.pricing.billing import (
    Amounts,
    Part,
    bill_parts,
    kept_back,
    left_of,
    stage_amount,
)

__all__ = ["Amounts", "Part", "bill_parts", "kept_back", "left_of", "stage_amount"]
