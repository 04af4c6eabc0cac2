"""Addresses under the stock whose pages look at orders as well."""

from django.urls import path

from farmbuild.buying.views import lots

urlpatterns = [path("stock/lots/<int:pk>/receive/", lots.receive_more, name="lot-receive")]
