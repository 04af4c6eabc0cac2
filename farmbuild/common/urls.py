"""Addresses of this app."""

from django.urls import path

from farmbuild.common import views

app_name = "common"
urlpatterns = [path("understood/", views.understood, name="understood")]
