"""Houses in plan on their site: rectangles, the free way between them, and who stands beside whom."""

from farmbuild.planning.placing.neighbours import MAX_PLACED, Neighbours, neighbours_among
from farmbuild.planning.placing.rectangles import Gap, Point, Rectangle, free_between

__all__ = ["MAX_PLACED", "Gap", "Neighbours", "Point", "Rectangle", "free_between", "neighbours_among"]
