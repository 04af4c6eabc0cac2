"""Addresses of this app; each room has a list of its own."""

from django.urls import URLPattern

app_name = "coop"
urlpatterns: list[URLPattern] = []
