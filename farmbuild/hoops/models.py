"""All rows of the app, where Django looks for them. Everybody else takes them from the room that they belong to."""

from farmbuild.hoops.batches.measured.models import MeasuredHoop, ServiceRecord
from farmbuild.hoops.batches.models import BatchHouse, BatchSticks, BentHoops, HoopBatch, SpoiltSticks, TrialHoop
from farmbuild.hoops.benders.models import Bender
from farmbuild.hoops.fits.models import FitReading, HouseFit
from farmbuild.hoops.recipes.models import Recipe

__all__ = [
    "BatchHouse",
    "BatchSticks",
    "Bender",
    "BentHoops",
    "FitReading",
    "HoopBatch",
    "HouseFit",
    "MeasuredHoop",
    "Recipe",
    "ServiceRecord",
    "SpoiltSticks",
    "TrialHoop",
]
