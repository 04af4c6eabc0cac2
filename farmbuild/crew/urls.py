"""Addresses of this app; each part lists its own."""

from django.urls import URLPattern, URLResolver

app_name = "crew"
urlpatterns: list[URLPattern | URLResolver] = []
