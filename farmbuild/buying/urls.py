"""Addresses of orders."""

from django.urls import path

from farmbuild.buying import views

app_name = "buying"
urlpatterns = [
    path("orders/", views.OrderList.as_view(), name="orders"),
    path("orders/<slug:number>/", views.show, name="order"),
    path("orders/<slug:number>/order.xlsx", views.workbook, name="workbook"),
]
