"""Addresses of this app."""

from django.urls import path

from farmbuild.costs.views import equipment, rates, statements, time, trips

app_name = "costs"
urlpatterns = [
    path("costs/", statements.houses, name="houses"),
    path("costs/costs.csv", statements.houses_csv, name="houses-csv"),
    path("houses/<slug:slug>/cost/", statements.house, name="house"),
    path("houses/<slug:slug>/cost/cost.csv", statements.house_csv, name="house-csv"),
    path("costs/time/", time.rows, name="time"),
    path("costs/time/new/", time.new, name="time-new"),
    path("costs/time/put/", time.put, name="time-put"),
    path("costs/time/approved/<int:pk>/", time.people, name="time-people"),
    path("costs/time/<int:pk>/", time.row, name="time-row"),
    path("costs/equipment/", equipment.rows, name="equipment"),
    path("costs/equipment/new/", equipment.new, name="equipment-new"),
    path("costs/equipment/record/", equipment.record, name="equipment-record"),
    path("costs/equipment/<int:pk>/", equipment.row, name="equipment-day"),
    path("costs/trips/", trips.rows, name="trips"),
    path("costs/trips/new/", trips.new, name="trip-new"),
    path("costs/trips/record/", trips.record, name="trips-record"),
    path("costs/trips/<int:pk>/", trips.row, name="trip"),
    path("costs/prices/", rates.rates, name="rates"),
    path("costs/prices/pay/", rates.pay, name="pay-rate"),
    path("costs/prices/equipment/", rates.equipment, name="equipment-rate"),
    path("costs/prices/trips/", rates.trip, name="trip-rate"),
]
