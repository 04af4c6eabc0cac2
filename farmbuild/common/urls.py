"""Addresses of this app."""

app_name = "common"
urlpatterns: list = []
