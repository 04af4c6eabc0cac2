"""Addresses of what is left after a season."""

from django.urls import path

from farmbuild.stock.seasonend import views

urlpatterns = [
    path("", views.left, name="season-end"),
    path("left.xlsx", views.left_file, name="season-end-file"),
    path("scrap/", views.scrap, name="season-end-scrap"),
]
