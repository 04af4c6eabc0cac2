"""Addresses of this app."""

from django.urls import path

from farmbuild.common.views import understood

app_name = "common"
urlpatterns = [path("understood/", understood.understood, name="understood")]
