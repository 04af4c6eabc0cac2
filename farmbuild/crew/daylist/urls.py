"""Addresses of the list of a day."""

from django.urls import path

from farmbuild.crew import feeds
from farmbuild.crew.daylist.calendar import person_calendar
from farmbuild.crew.daylist.views import days

feeds.MAKERS["person"] = person_calendar

urlpatterns = [
    path("crew/day/", days.show, name="day"),
    path("crew/day/<int:pk>/tick/", days.tick, name="day-tick"),
    path("crew/presses/<int:pk>/take-back/", days.take_back, name="press-take-back"),
    path("crew/day/calendars/<slug:slug>/", days.feed, name="person-feed"),
    path("crew/day/calendars/<slug:slug>/make/", days.make_feed, name="person-feed-make"),
    path("crew/day/calendars/<slug:slug>/cancel/", days.revoke_feed, name="person-feed-revoke"),
]
