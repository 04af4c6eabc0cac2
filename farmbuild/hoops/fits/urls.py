"""Addresses of the fit of a house, under the house."""

from django.urls import path

from farmbuild.hoops.fits import views

urlpatterns = [
    path("houses/<slug:slug>/fit/", views.latest, name="fit-latest"),
    path("houses/<slug:slug>/fit/measure/", views.measure, name="fit-measure"),
    path("houses/<slug:slug>/fit/sheet/", views.blank, name="fit-sheet"),
    path("houses/<slug:slug>/fit/<int:pk>/", views.show, name="fit"),
]
