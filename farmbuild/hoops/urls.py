"""Addresses of the app: what is named in an address goes before a slug that could be anything."""

from django.urls import include, path

app_name = "hoops"
urlpatterns = [
    path("", include("farmbuild.hoops.benders.urls")),
    path("", include("farmbuild.hoops.batches.urls")),
    path("", include("farmbuild.hoops.fits.urls")),
    path("", include("farmbuild.hoops.for_span.urls")),
    path("", include("farmbuild.hoops.recipes.urls")),
]
