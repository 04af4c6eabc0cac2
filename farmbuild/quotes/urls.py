"""Addresses of customers, jobs and quotes."""

from django.urls import path

from farmbuild.quotes.against import urls as against
from farmbuild.quotes.bills import urls as bills
from farmbuild.quotes.changes import urls as changes
from farmbuild.quotes.customers import views as customers
from farmbuild.quotes.jobs import views as jobs
from farmbuild.quotes.offered import urls as offered
from farmbuild.quotes.pricing.views import options, quotes
from farmbuild.quotes.sending import urls as sending

app_name = "quotes"
_OPTION = "quotes/<int:number>/options/<int:position>/"
urlpatterns = [
    path("customers/", customers.CustomerList.as_view(), name="customers"),
    path("customers/new/", customers.customer, name="customer-new"),
    path("customers/<slug:slug>/", customers.customer, name="customer"),
    path("customers/<slug:slug>/archive/", customers.archive, name="customer-archive"),
    path("jobs/", jobs.JobList.as_view(), name="jobs"),
    path("jobs/new/", jobs.new, name="job-new"),
    path("jobs/<int:number>/", jobs.show, name="job"),
    path("jobs/<int:number>/edit/", jobs.edit, name="job-edit"),
    path("jobs/<int:number>/lost/", jobs.lost, name="job-lost"),
    path("jobs/<int:number>/again/", jobs.again, name="job-again"),
    path("jobs/<int:number>/ground/", jobs.ground, name="ground"),
    path("jobs/<int:number>/photos/", jobs.add_photos, name="photos"),
    path("jobs/photos/<int:pk>/whole.jpg", jobs.picture, {"small": False}, name="photo-whole"),
    path("jobs/photos/<int:pk>/small.jpg", jobs.picture, {"small": True}, name="photo-small"),
    path("jobs/photos/<int:pk>/remove/", jobs.remove_photo, name="photo-remove"),
    path("jobs/<int:number>/quote/", quotes.new, name="quote-new"),
    path("quotes/", quotes.QuoteList.as_view(), name="quotes"),
    path("quotes/rates/", quotes.rates, name="rates"),
    path("quotes/<int:number>/", quotes.show, name="quote"),
    path("quotes/<int:number>/edit/", quotes.edit, name="quote-edit"),
    path("quotes/<int:number>/options/new/", quotes.new_option, name="option-new"),
    path(_OPTION, options.show, name="option"),
    path(f"{_OPTION}name/", options.rename, name="option-name"),
    path(f"{_OPTION}remove/", options.remove, name="option-remove"),
    path(f"{_OPTION}price/", options.price, name="option-price"),
    path(f"{_OPTION}houses/new/", options.choose_house, name="house-choose"),
    path(f"{_OPTION}houses/new/<slug:starter>/", options.new_house, name="house-new"),
    path(f"{_OPTION}houses/like/<slug:slug>/", options.house_like, name="house-like"),
    path(f"{_OPTION}houses/<int:pk>/", options.edit_house, name="house"),
    path(f"{_OPTION}houses/<int:pk>/remove/", options.remove_house, name="house-remove"),
    path(f"{_OPTION}lines/new/", options.new_line, name="line-new"),
    path(f"{_OPTION}lines/<int:pk>/", options.line, name="line"),
    path(f"{_OPTION}lines/<int:pk>/worked-out/", options.forget, name="line-worked-out"),
    path(f"{_OPTION}lines/<int:pk>/remove/", options.remove_line, name="line-remove"),
    *sending.urlpatterns,
    *changes.urlpatterns,
    *offered.urlpatterns,
    *bills.urlpatterns,
    *against.urlpatterns,
]
