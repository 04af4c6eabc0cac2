"""Addresses of availability."""

from django.urls import path

from farmbuild.plans.availability.views import availability

urlpatterns = [
    path("", availability.everything, name="availability"),
    path("<slug:code>/", availability.one, name="availability-of"),
]
