"""Cut plans: pieces over sticks and offcuts, at least cost, with a proven bound."""

from farmbuild.planning.cutting.plan import CutPlan, Layout, Offcut, Piece, Progress, Stock, plan_cuts

__all__ = ["CutPlan", "Layout", "Offcut", "Piece", "Progress", "Stock", "plan_cuts"]
