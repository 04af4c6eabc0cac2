"""Addresses of the wind pages."""

from django.urls import path

from farmbuild.crew.wind import views

urlpatterns = [
    path("crew/wind/", views.days, name="wind"),
    path("crew/wind/forecast/", views.forecast, name="wind-forecast"),
    path("crew/wind/limits/", views.limits, name="wind-limits"),
]
