"""Addresses of the fit of a house, under the house."""

from django.urls import path

from farmbuild.hoops.fits.views import fits

urlpatterns = [
    path("houses/<slug:slug>/fit/", fits.latest, name="fit-latest"),
    path("houses/<slug:slug>/fit/measure/", fits.measure, name="fit-measure"),
    path("houses/<slug:slug>/fit/sheet/", fits.blank, name="fit-sheet"),
    path("houses/<slug:slug>/fit/<int:pk>/", fits.show, name="fit"),
]
