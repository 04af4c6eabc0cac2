"""Addresses of hours."""

from django.urls import path

from farmbuild.crew.hours.views import hours, other_work

urlpatterns = [
    path("crew/worked/", hours.week, name="hours"),
    path("crew/worked/approve/", hours.approve, name="hours-approve"),
    path("crew/worked/hours.xlsx", hours.workbook, name="hours-workbook"),
    path("crew/worked/<int:pk>/", hours.run, name="hours-run"),
    path("crew/worked/other/<int:pk>/", other_work.show, name="hours-other"),
    path("houses/<slug:slug>/tasks/other/", other_work.new, name="hours-other-new"),
]
