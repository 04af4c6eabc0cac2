"""Addresses of cost against quote."""

from django.urls import path

from farmbuild.quotes.against import views

urlpatterns = [
    path("jobs/<int:number>/costs/", views.show, name="against"),
    path("jobs/<int:number>/costs/costs.xlsx", views.workbook, name="against-workbook"),
    path("jobs/<int:number>/costs/against.csv", views.job_csv, name="against-csv"),
    path("jobs/<int:number>/costs/to-come/", views.to_come, name="to-come"),
    path("jobs/<int:number>/costs/finish/", views.finish, name="job-finish"),
    path("jobs/costs.csv", views.csv_file, name="costs-csv"),
    path("quotes/lessons/", views.lessons, name="lessons"),
    path("quotes/lessons/take/", views.take_lesson, name="lesson-take"),
]
