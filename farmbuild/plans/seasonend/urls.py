"""Addresses of what is left after a season."""

from django.urls import path

from farmbuild.plans.seasonend.views import leftovers

urlpatterns = [
    path("", leftovers.left, name="season-end"),
    path("leftovers.xlsx", leftovers.left_file, name="season-end-file"),
    path("scrap/", leftovers.scrap, name="season-end-scrap"),
]
