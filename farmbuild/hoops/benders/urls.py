"""Addresses of benders."""

from django.urls import path

from farmbuild.hoops.benders import views

urlpatterns = [
    path("hoops/benders/", views.BenderList.as_view(), name="benders"),
    path("hoops/benders/new/", views.create, name="bender-new"),
    path("hoops/benders/<slug:slug>/", views.show, name="bender"),
    path("hoops/benders/<slug:slug>/edit/", views.edit, name="bender-edit"),
    path("hoops/benders/<slug:slug>/archive/", views.archive, name="bender-archive"),
    path("hoops/benders/<slug:slug>/bring-back/", views.bring_back, name="bender-bring-back"),
]
