"""What the history keeps of these tables."""

from farmbuild.common.long_work import LongWork
from farmbuild.common.templatetags.farm import day
from farmbuild.crew.models import (
    BenderBooking,
    BenderRequest,
    CalendarFeed,
    Crew,
    CrewSettings,
    DayOff,
    HouseWork,
    Member,
    MemberSignIn,
    Person,
    Rate,
    Schedule,
    SharingRules,
    Skill,
    StepAfter,
    Task,
    Travel,
    WindLimit,
    WorkHours,
    WorkStep,
    WorkTemplate,
    WorkWeek,
)
from farmbuild.history.keeping import keep
from farmbuild.history.kept import ARCHIVES

_WORK = [field.name for field in LongWork._meta.fields]

keep(CrewSettings, of="organisation", title="journeys", name=lambda row: "")
keep(WorkWeek, "hours", title="working hours")
keep(WorkHours, of="week", title="hours")
keep(Crew, "crew", deeds=ARCHIVES, leads_to=("crew:crew", "slug"))
keep(Skill, "skill")
keep(Person, "person", title="person", deeds=ARCHIVES, leads_to=("crew:person", "slug"))
keep(
    DayOff,
    "day-off",
    title="days off of",
    name=lambda row: f"{row.person or 'everybody'}, {day(row.first)} to {day(row.last)}",
    with_rows=["person"],
)
keep(Travel, "journey", title="journey", name=lambda row: f"{row.one} to {row.other}", with_rows=["one", "other"])
keep(Rate, "rate", title="rate of", leave_out=["kind"], name=lambda row: row.get_kind_display())
keep(WorkTemplate, "steps", title="usual steps")
keep(WorkStep, of="template", title="step", leave_out=["position", "kind"], with_rows=["skill"])
keep(StepAfter, of="step", title="order of steps", leave_out=["after"], with_rows=["step", "after"])
keep(
    HouseWork,
    of="house",
    title="usual steps",
    name=lambda row: "",
    labels={"due": "to stand by", "template": "usual steps"},
)
keep(
    Task,
    "task",
    # Counts and lengths follow from the house and the rates, and what is done from what was recorded.
    leave_out=["kind", "position", "count", "metric", "minutes", "done"],
    labels={"state": "how far"},
    added=None,
    leads_to=("crew:task", "pk"),
    with_rows=["house"],
)
keep(
    Schedule,
    "schedule",
    leave_out=[*_WORK, "number", "inputs", "seen", "result", "created_at", "created_by"],
    deeds={"published_at": ("published", "took back")},
    leads_to=("crew:schedule", "number"),
)
keep(
    WindLimit,
    "wind-limit",
    title="wind limit for",
    leave_out=["set_by", "set_at"],
    name=lambda row: row.get_work_display(),
)
keep(
    SharingRules,
    "sharing-rules",
    title="rules of sharing",
    name=lambda row: "",
    labels={
        "season_month": "season starts in",
        "season_day": "season starts on day",
        "last_season_percent": "last season counts, percent",
        "days_a_week_sooner": "days less for a week sooner",
        "together": "all wishes of a member together",
        "most_days_open": "days to come, at most",
    },
)
keep(Member, "member", deeds=ARCHIVES, leads_to=("crew:member", "slug"))
keep(
    MemberSignIn,
    of="member",
    title="sign-in",
    leave_out=["made_by", "made_at"],
    with_rows=["user"],
    name=lambda row: row.user.display_name,
)
keep(
    BenderRequest,
    "request",
    title="request of",
    leave_out=["asked_at", "asked_by"],
    deeds={"state": {"withdrawn": "withdrew", "declined": "declined", "given": "booked"}},
    name=lambda row: str(row.member),
    with_rows=["member"],
    labels={"declined_because": "why"},
)
keep(
    BenderBooking,
    "booking",
    title="booking of",
    leave_out=["request", "out_at", "back_at", "made_by", "made_at"],
    name=lambda row: f"{row.bender}, {row.member or 'own work'}",
    with_rows=["bender", "member"],
)
keep(
    CalendarFeed,
    "calendar",
    leave_out=["made_at", "digest"],
    deeds={"revoked_at": ("closed", "opened")},
    with_rows=["bender", "person", "member"],
)
