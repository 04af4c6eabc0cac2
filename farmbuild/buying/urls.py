"""Addresses of orders."""

from django.urls import include, path

from farmbuild.buying.invoices import urls as invoices
from farmbuild.buying.views import orders, receipts, replies, states

app_name = "buying"
urlpatterns = [
    path("orders/", orders.OrderList.as_view(), name="orders"),
    path("orders/", include("farmbuild.buying.drafting.urls")),
    *invoices.urlpatterns,
    path("orders/<slug:number>/", orders.show, name="order"),
    path("orders/<slug:number>/order.xlsx", orders.workbook, name="workbook"),
    path("orders/<slug:number>/send/", states.send, name="send"),
    path("orders/<slug:number>/cancel/", states.cancel, name="cancel"),
    path("orders/<slug:number>/close/", states.close, name="close"),
    path("orders/<slug:number>/lines/<int:position>/close/", states.close, name="close-line"),
    path("orders/<slug:number>/receive/", receipts.receive, name="receive"),
    path("orders/<slug:number>/receipts/<int:receipt>/", receipts.receipt, name="receipt"),
    path("orders/<slug:number>/receipts/<int:receipt>/reverse/", receipts.reverse, name="reverse"),
    path("orders/<slug:number>/reply/", replies.upload, name="reply-new"),
    path("orders/<slug:number>/reply/<int:pk>/", replies.preview, name="reply"),
    path("orders/<slug:number>/reply/<int:pk>/take/", replies.take, name="reply-take"),
]
