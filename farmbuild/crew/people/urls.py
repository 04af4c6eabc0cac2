"""Addresses of people and crews, and of when they work."""

from django.urls import path

from farmbuild.crew.people.views import calendar, crews, people

urlpatterns = [
    path("crew/people/", people.PersonList.as_view(), name="people"),
    path("crew/people/new/", people.create, name="person-new"),
    path("crew/people/<slug:slug>/", people.show, name="person"),
    path("crew/people/<slug:slug>/edit/", people.edit, name="person-edit"),
    path("crew/people/<slug:slug>/archive/", people.archive, name="person-archive"),
    path("crew/people/<slug:slug>/invite/", people.invite, name="person-invite"),
    path("crew/people/<slug:slug>/bring-back/", people.bring_back, name="person-bring-back"),
    path("crew/crews/", crews.CrewsList.as_view(), name="crews"),
    path("crew/crews/new/", crews.create, name="crew-new"),
    path("crew/crews/first/", crews.first, name="crew-first"),
    path("crew/crews/<slug:slug>/", crews.show, name="crew"),
    path("crew/crews/<slug:slug>/edit/", crews.edit, name="crew-edit"),
    path("crew/crews/<slug:slug>/archive/", crews.archive, name="crew-archive"),
    path("crew/crews/<slug:slug>/bring-back/", crews.bring_back, name="crew-bring-back"),
    path("crew/skills/", crews.SkillList.as_view(), name="skills"),
    path("crew/skills/new/", crews.skill, name="skill-new"),
    path("crew/skills/<int:pk>/", crews.skill, name="skill"),
    path("crew/skills/<int:pk>/remove/", crews.remove_skill, name="skill-remove"),
    path("crew/settings/", crews.settings, name="settings"),
    path("crew/hours/", calendar.WeekList.as_view(), name="weeks"),
    path("crew/hours/new/", calendar.week, name="week-new"),
    path("crew/hours/<int:pk>/", calendar.week, name="week"),
    path("crew/hours/<int:pk>/remove/", calendar.remove_week, name="week-remove"),
    path("crew/days-off/", calendar.DayOffList.as_view(), name="days-off"),
    path("crew/days-off/new/", calendar.add_days_off, name="day-off-new"),
    path("crew/days-off/<int:pk>/", calendar.day_off, name="day-off"),
    path("crew/days-off/<int:pk>/remove/", calendar.remove_day_off, name="day-off-remove"),
    path("crew/travel/", calendar.travel, name="travel"),
]
