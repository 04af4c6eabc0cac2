"""Addresses of invoices."""

from django.urls import path

from farmbuild.buying.invoices import views

urlpatterns = [
    path("invoices/", views.InvoiceList.as_view(), name="invoices"),
    path("invoices/invoices.csv", views.invoices_csv, name="invoices-csv"),
    path("invoices/received.csv", views.received_csv, name="received-csv"),
    path("orders/<slug:number>/invoices/new/", views.new, name="invoice-new"),
    path("orders/<slug:number>/invoices/<int:invoice>/", views.show, name="invoice"),
    path("orders/<slug:number>/invoices/<int:invoice>/check/", views.check, name="invoice-check"),
    path("orders/<slug:number>/invoices/<int:invoice>/credit/", views.credit, name="invoice-credit"),
    path("orders/<slug:number>/invoices/<int:invoice>/reverse/", views.reverse, name="invoice-reverse"),
]
