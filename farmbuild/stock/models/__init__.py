"""What lies in the yard: places, lots, the movements that alone change a lot, and who holds what."""

from farmbuild.stock.models.costs import CostShare, Repricing
from farmbuild.stock.models.counts import CountDraft, CountEntry, CountFind, CountLine, CountPlace, StockCount
from farmbuild.stock.models.imports import ImportDraft, ImportLot, ImportPart
from farmbuild.stock.models.leaves import Leave
from farmbuild.stock.models.lots import Lot, LotNumbers, Place
from farmbuild.stock.models.movements import Cut, CutPiece, Movement
from farmbuild.stock.models.reservations import HeldPiece, Reservation, UsedHold

__all__ = [
    "CostShare",
    "CountDraft",
    "CountEntry",
    "CountFind",
    "CountLine",
    "CountPlace",
    "Cut",
    "CutPiece",
    "HeldPiece",
    "ImportDraft",
    "ImportLot",
    "ImportPart",
    "Leave",
    "Lot",
    "LotNumbers",
    "Movement",
    "Place",
    "Repricing",
    "Reservation",
    "StockCount",
    "UsedHold",
]
