"""Addresses of orders."""

from django.urls import path

from farmbuild.buying import receipt_views, reply_views, state_views, views

app_name = "buying"
urlpatterns = [
    path("orders/", views.OrderList.as_view(), name="orders"),
    path("orders/<slug:number>/", views.show, name="order"),
    path("orders/<slug:number>/order.xlsx", views.workbook, name="workbook"),
    path("orders/<slug:number>/send/", state_views.send, name="send"),
    path("orders/<slug:number>/cancel/", state_views.cancel, name="cancel"),
    path("orders/<slug:number>/close/", state_views.close, name="close"),
    path("orders/<slug:number>/lines/<int:position>/close/", state_views.close, name="close-line"),
    path("orders/<slug:number>/receive/", receipt_views.receive, name="receive"),
    path("orders/<slug:number>/receipts/<int:receipt>/", receipt_views.receipt, name="receipt"),
    path("orders/<slug:number>/receipts/<int:receipt>/reverse/", receipt_views.reverse, name="reverse"),
    path("orders/<slug:number>/reply/", reply_views.upload, name="reply-new"),
    path("orders/<slug:number>/reply/<int:pk>/", reply_views.preview, name="reply"),
    path("orders/<slug:number>/reply/<int:pk>/take/", reply_views.take, name="reply-take"),
]
