"""Addresses of the wind pages."""

from django.urls import path

from farmbuild.crew.wind.views import wind

urlpatterns = [
    path("crew/wind/", wind.days, name="wind"),
    path("crew/wind/forecast/", wind.forecast, name="wind-forecast"),
    path("crew/wind/limits/", wind.limits, name="wind-limits"),
]
