"""People, work, schedules and shared benders for whoever runs the server, to look at: they change on the pages."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.db.models import QuerySet
from django.http import HttpRequest

from farmbuild.common.admin import OwnedAdmin, ReadOnlyAdmin
from farmbuild.crew.models import (
    Actual,
    BenderBooking,
    BenderRequest,
    BookingMove,
    BookingPhoto,
    CalendarFeed,
    Crew,
    CrewSettings,
    DayOff,
    HourApproval,
    HourCorrection,
    HouseWork,
    Member,
    MemberSignIn,
    OtherWork,
    Person,
    ProblemPhoto,
    ProblemSettled,
    Rate,
    Schedule,
    SentWarning,
    SharingRules,
    Skill,
    Task,
    Travel,
    WindForecast,
    WindLimit,
    WorkHours,
    WorkStep,
    WorkTemplate,
    WorkWeek,
)


class HoursInline(admin.TabularInline):
    model = WorkHours
    extra = 0


class StepInline(admin.TabularInline):
    model = WorkStep
    extra = 0


class MoveInline(admin.TabularInline):
    model = BookingMove
    extra = 0


@admin.register(CrewSettings)
class CrewSettingsAdmin(ReadOnlyAdmin):
    list_display = ("organisation", "travel_minutes")
    list_select_related = ("organisation",)


@admin.register(SharingRules)
class SharingRulesAdmin(ReadOnlyAdmin):
    list_display = ("organisation", "last_season_percent", "together")
    list_select_related = ("organisation",)


@admin.register(WorkWeek)
class WorkWeekAdmin(OwnedAdmin):
    columns = ("name",)
    inlines = (HoursInline,)


@admin.register(Crew)
class CrewAdmin(OwnedAdmin):
    columns = ("name", "week", "archived_at")
    joins = ("week",)
    search_fields = ("name",)


@admin.register(Skill)
class SkillAdmin(OwnedAdmin):
    columns = ("name",)


@admin.register(Person)
class PersonAdmin(OwnedAdmin):
    columns = ("name", "crew", "user", "archived_at")
    joins = ("crew", "user")
    search_fields = ("name",)


@admin.register(DayOff)
class DayOffAdmin(OwnedAdmin):
    columns = ("first", "last", "person", "reason")
    joins = ("person",)


@admin.register(Travel)
class TravelAdmin(OwnedAdmin):
    columns = ("one", "other", "minutes")
    joins = ("one", "other")


@admin.register(Rate)
class RateAdmin(OwnedAdmin):
    columns = ("kind", "minutes_each", "minutes_once")


@admin.register(WorkTemplate)
class WorkTemplateAdmin(OwnedAdmin):
    columns = ("name",)
    inlines = (StepInline,)


@admin.register(HouseWork)
class HouseWorkAdmin(OwnedAdmin):
    columns = ("house", "template", "due")
    joins = ("house", "template")


@admin.register(Schedule)
class ScheduleAdmin(OwnedAdmin):
    columns = ("number", "state", "starts_at", "created_at", "published_at")
    # What was planned runs to megabytes.
    fields = ("number", "organisation", "state", "starts_at", "created_at", "created_by", "published_at", "problem")

    def get_queryset(self, request: HttpRequest) -> QuerySet[Any]:
        return super().get_queryset(request).defer("inputs", "seen", "result")


@admin.register(Task)
class TaskAdmin(OwnedAdmin):
    columns = ("house", "kind", "minutes", "own_minutes", "crew", "bender", "starts_at", "ends_at", "state")
    joins = ("house", "crew", "bender")
    list_filter = ("organisation", "kind", "state")


@admin.register(Actual)
class ActualAdmin(OwnedAdmin):
    columns = ("task", "person", "by", "started_at", "stopped_at", "done", "problem")
    joins = ("task__house", "person", "by")


@admin.register(HourCorrection)
class HourCorrectionAdmin(OwnedAdmin):
    columns = ("actual_id", "minutes", "people", "reason", "by", "at")
    joins = ("by",)


@admin.register(OtherWork)
class OtherWorkAdmin(OwnedAdmin):
    columns = ("house", "what", "day", "minutes", "people", "person", "removed_at")
    joins = ("house", "person")


@admin.register(HourApproval)
class HourApprovalAdmin(OwnedAdmin):
    columns = ("actual_id", "correction_id", "other_id", "note", "by", "at")
    joins = ("by",)


@admin.register(ProblemPhoto)
class ProblemPhotoAdmin(OwnedAdmin):
    columns = ("actual_id", "position", "width", "height", "removed_at", "removed_by")
    joins = ("removed_by",)


@admin.register(BookingPhoto)
class BookingPhotoAdmin(OwnedAdmin):
    columns = ("booking_id", "position", "width", "height", "removed_at", "removed_by")
    joins = ("removed_by",)


@admin.register(SentWarning)
class SentWarningAdmin(OwnedAdmin):
    columns = ("booking_id", "finding", "user", "sent_at")
    joins = ("user",)


@admin.register(ProblemSettled)
class ProblemSettledAdmin(OwnedAdmin):
    columns = ("actual_id", "how", "by", "at")
    joins = ("by",)


@admin.register(WindLimit)
class WindLimitAdmin(OwnedAdmin):
    columns = ("work", "measure", "speed", "unit", "source")


@admin.register(WindForecast)
class WindForecastAdmin(OwnedAdmin):
    columns = ("site", "day", "wind", "gust", "unit", "source")
    joins = ("site",)


@admin.register(Member)
class MemberAdmin(OwnedAdmin):
    columns = ("name", "contact", "archived_at")
    search_fields = ("name",)


@admin.register(MemberSignIn)
class MemberSignInAdmin(OwnedAdmin):
    columns = ("user", "member", "made_by", "made_at", "shut_at")
    joins = ("user", "member", "made_by")


@admin.register(BenderRequest)
class BenderRequestAdmin(OwnedAdmin):
    columns = ("member", "bender", "tube", "days", "earliest", "need_by", "state")
    joins = ("member", "bender", "tube")
    list_filter = ("organisation", "state")


@admin.register(BenderBooking)
class BenderBookingAdmin(OwnedAdmin):
    columns = ("bender", "member", "first", "last", "state")
    joins = ("bender", "member")
    list_filter = ("organisation", "state")
    inlines = (MoveInline,)


@admin.register(CalendarFeed)
class CalendarFeedAdmin(OwnedAdmin):
    columns = ("__str__", "made_at", "revoked_at")
    joins = ("bender", "person", "member")
    # Whoever has the secret reads the calendar.
    fields = ("organisation", "bender", "person", "member", "made_at", "revoked_at")
