"""Addresses of benders."""

from django.urls import path

from farmbuild.hoops.benders.views import benders

urlpatterns = [
    path("hoops/benders/", benders.BenderList.as_view(), name="benders"),
    path("hoops/benders/new/", benders.create, name="bender-new"),
    path("hoops/benders/<slug:slug>/edit/", benders.edit, name="bender-edit"),
    path("hoops/benders/<slug:slug>/archive/", benders.archive, name="bender-archive"),
    path("hoops/benders/<slug:slug>/bring-back/", benders.bring_back, name="bender-bring-back"),
]
