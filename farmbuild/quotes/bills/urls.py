"""Addresses of stages and bills."""

from django.urls import path

from farmbuild.quotes.bills import views

urlpatterns = [
    path("jobs/<int:number>/bills/", views.of_job, name="job-bills"),
    path("jobs/<int:number>/stages/", views.stages, name="stages"),
    path("jobs/<int:number>/bills/new/", views.new, name="bill-new"),
    path("bills/", views.BillList.as_view(), name="bills"),
    path("bills/bills.csv", views.csv_file, name="bills-csv"),
    path("bills/<int:number>/", views.show, name="bill"),
    path("bills/<int:number>/bill.pdf", views.pdf, name="bill-pdf"),
    path("bills/<int:number>/bill.xlsx", views.workbook, name="bill-workbook"),
    path("bills/<int:number>/back/", views.back, name="bill-back"),
]
