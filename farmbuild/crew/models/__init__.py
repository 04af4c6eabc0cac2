"""People and their work, schedules, and benders that are shared."""

from farmbuild.crew.models.bookings import BenderBooking, BenderRequest, Member
from farmbuild.crew.models.feeds import CalendarFeed
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
from farmbuild.crew.models.schedule import Actual, Schedule, Task
from farmbuild.crew.models.wind import WindForecast, WindLimit
from farmbuild.crew.models.work import HouseWork, Kind, Rate, StepAfter, WorkStep, WorkTemplate

__all__ = [
    "Actual",
    "BenderBooking",
    "BenderRequest",
    "CalendarFeed",
    "Crew",
    "CrewSettings",
    "DayOff",
    "HouseWork",
    "Kind",
    "Member",
    "Person",
    "Rate",
    "Schedule",
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
