"""How hoops are made: benders, recipes, batches with their trial hoops, and how set hoops fit."""

from farmbuild.hoops.models.batches import BatchHouse, BatchSticks, BentHoops, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.hoops.models.benders import Bender
from farmbuild.hoops.models.fits import FitReading, HouseFit
from farmbuild.hoops.models.recipes import Recipe

__all__ = [
    "BatchHouse",
    "BatchSticks",
    "Bender",
    "BentHoops",
    "FitReading",
    "HoopBatch",
    "HouseFit",
    "Recipe",
    "SpoiltSticks",
    "TrialHoop",
]
