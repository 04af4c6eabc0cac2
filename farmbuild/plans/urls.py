"""Addresses of this app."""

app_name = "plans"
urlpatterns: list = []
