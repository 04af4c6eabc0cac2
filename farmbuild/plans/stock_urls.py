"""Addresses under the stock whose pages look at plans as well."""

from django.urls import include, path

urlpatterns = [
    path("stock/availability/", include("farmbuild.plans.availability.urls")),
    path("stock/season-end/", include("farmbuild.plans.seasonend.urls")),
]
