"""Addresses of sites and houses."""

from django.urls import path

from farmbuild.sites.views import houses, sites, takeoff

app_name = "sites"
urlpatterns = [
    path("houses/", houses.yard, name="houses"),
    path("houses/new/", houses.choose_starter, name="house-new"),
    path("houses/new/draw/", houses.draw_new, name="house-draw-new"),
    path("houses/new/<slug:starter>/", houses.create, name="house-create"),
    path("houses/new/like/<slug:slug>/", houses.create_like, name="house-like"),
    path("houses/<slug:slug>/", houses.show, name="house"),
    path("houses/<slug:slug>/edit/", houses.edit, name="house-edit"),
    path("houses/<slug:slug>/edit/draw/", houses.draw, name="house-draw"),
    path("houses/<slug:slug>/copy/", houses.copy, name="house-copy"),
    path("houses/<slug:slug>/archive/", houses.archive, name="house-archive"),
    path("houses/<slug:slug>/bring-back/", houses.bring_back, name="house-bring-back"),
    path("houses/<slug:slug>/takeoff/", takeoff.show, name="takeoff"),
    path("houses/<slug:slug>/takeoff/spreadsheet/", takeoff.spreadsheet, name="takeoff-spreadsheet"),
    path("sites/", sites.SiteList.as_view(), name="sites"),
    path("sites/new/", sites.create, name="site-new"),
    path("sites/<slug:slug>/", sites.show, name="site"),
    path("sites/<slug:slug>/edit/", sites.edit, name="site-edit"),
    path("sites/<slug:slug>/places/", sites.places, name="site-places"),
    path("sites/<slug:slug>/copy/", sites.copy, name="site-copy"),
    path("sites/<slug:slug>/archive/", sites.archive, name="site-archive"),
    path("sites/<slug:slug>/bring-back/", sites.bring_back, name="site-bring-back"),
]
