"""Addresses of drafts."""

from django.urls import path

from farmbuild.buying.drafting.views import lines, orders

urlpatterns = [
    path("new/", orders.new, name="order-new"),
    path("<slug:number>/change/", orders.change, name="order-change"),
    path("<slug:number>/by-site/", orders.by_site, name="order-by-site"),
    path("<slug:number>/join/", orders.join, name="order-join"),
    path("<slug:number>/lines/add/", lines.add, name="line-add"),
    path("<slug:number>/lines/of/<int:pk>/", lines.change, name="line"),
    path("<slug:number>/lines/of/<int:pk>/split/", lines.split, name="line-split"),
    path("<slug:number>/lines/of/<int:pk>/remove/", lines.remove, name="line-remove"),
]
