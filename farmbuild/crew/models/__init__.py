"""People and their work, schedules, and benders that are shared."""

from farmbuild.crew.models.actuals import Actual
from farmbuild.crew.models.booking_photos import BookingPhoto
from farmbuild.crew.models.bookings import BenderBooking, BenderRequest, BookingMove, Member, MemberSignIn
from farmbuild.crew.models.feeds import CalendarFeed
from farmbuild.crew.models.hours import HourApproval, HourCorrection, OtherWork
from farmbuild.crew.models.people import (
    Crew,
    CrewSettings,
    DayOff,
    Person,
    Skill,
    Travel,
    WorkHours,
    WorkWeek,
)
from farmbuild.crew.models.problems import MAX_PHOTOS, ProblemPhoto, ProblemSettled
from farmbuild.crew.models.schedule import MAX_OWN_MINUTES, Schedule, Task
from farmbuild.crew.models.sharing import SharingRules
from farmbuild.crew.models.warnings import SentWarning
from farmbuild.crew.models.wind import WindForecast, WindLimit
from farmbuild.crew.models.work import HouseWork, Kind, Rate, StepAfter, WorkStep, WorkTemplate

__all__ = [
    "MAX_OWN_MINUTES",
    "MAX_PHOTOS",
    "Actual",
    "BenderBooking",
    "BenderRequest",
    "BookingMove",
    "BookingPhoto",
    "CalendarFeed",
    "Crew",
    "CrewSettings",
    "DayOff",
    "HourApproval",
    "HourCorrection",
    "HouseWork",
    "Kind",
    "Member",
    "MemberSignIn",
    "OtherWork",
    "Person",
    "ProblemPhoto",
    "ProblemSettled",
    "Rate",
    "Schedule",
    "SentWarning",
    "SharingRules",
    "Skill",
    "StepAfter",
    "Task",
    "Travel",
    "WindForecast",
    "WindLimit",
    "WorkHours",
    "WorkStep",
    "WorkTemplate",
    "WorkWeek",
]
