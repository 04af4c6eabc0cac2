"""Addresses of this app."""

app_name = "stock"
urlpatterns: list = []
