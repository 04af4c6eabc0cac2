"""Addresses of the list of a day."""

from django.urls import path

from farmbuild.crew import feeds
from farmbuild.crew.daylist import views
from farmbuild.crew.daylist.calendar import person_calendar

feeds.MAKERS["person"] = person_calendar

urlpatterns = [
    path("crew/day/", views.show, name="day"),
    path("crew/day/<int:pk>/tick/", views.tick, name="day-tick"),
    path("crew/day-worker.js", views.worker, name="day-worker"),
    path("crew/day/calendars/<slug:slug>/", views.feed, name="person-feed"),
    path("crew/day/calendars/<slug:slug>/make/", views.make_feed, name="person-feed-make"),
    path("crew/day/calendars/<slug:slug>/revoke/", views.revoke_feed, name="person-feed-revoke"),
]
