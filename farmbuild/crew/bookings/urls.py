"""Addresses of benders that are shared, and of calendars that other programs read."""

from django.urls import path

from farmbuild.crew import feeds

urlpatterns = [
    path("calendar/<str:secret>.ics", feeds.serve, name="calendar"),
]
