"""Addresses of benders that are shared, and of calendars that other programs read."""

from django.urls import path

from farmbuild.crew import feeds
from farmbuild.crew.bookings.calendar import bender_calendar, member_calendar
from farmbuild.crew.bookings.own.views import hoops, own
from farmbuild.crew.bookings.views import bookings, member_requests, photos, sharing, signins

feeds.MAKERS["bender"] = bender_calendar
feeds.MAKERS["member"] = member_calendar

urlpatterns = [
    path("calendar/<str:secret>.ics", feeds.serve, name="calendar"),
    path("crew/benders/", bookings.shared, name="shared"),
    path("crew/benders/bookings/", bookings.BookingList.as_view(), name="bookings"),
    path("crew/benders/bookings/new/", bookings.new, name="booking-new"),
    path("crew/benders/bookings/<int:pk>/", bookings.show, name="booking"),
    path("crew/benders/bookings/<int:pk>/hoop/", bookings.hoop, name="booking-hoop"),
    path("crew/benders/bookings/<int:pk>/move/", bookings.move, name="booking-move"),
    path("crew/benders/bookings/<int:pk>/cancel/", bookings.cancel, name="booking-cancel"),
    path("crew/benders/bookings/<int:pk>/photos/", photos.add, name="booking-photos"),
    path("crew/benders/bookings/<int:pk>/pulls/", photos.pulls, name="booking-pulls"),
    path("crew/benders/photos/<int:pk>/", photos.photo, name="booking-photo"),
    path("crew/benders/photos/<int:pk>/whole.jpg", photos.picture, {"small": False}, name="booking-photo-whole"),
    path("crew/benders/photos/<int:pk>/small.jpg", photos.picture, {"small": True}, name="booking-photo-small"),
    path("crew/benders/requests/", member_requests.RequestList.as_view(), name="requests"),
    path("crew/benders/requests/new/", member_requests.new_request, name="request-new"),
    path("crew/benders/requests/<int:pk>/", member_requests.show_request, name="request"),
    path("crew/benders/requests/<int:pk>/withdraw/", member_requests.withdraw, name="request-withdraw"),
    path("crew/benders/requests/<int:pk>/decline/", member_requests.decline, name="request-decline"),
    path("crew/benders/who-gets-which/", member_requests.proposal, name="proposal"),
    path("crew/benders/rules/", sharing.rules, name="sharing-rules"),
    path("crew/benders/members/", member_requests.MemberList.as_view(), name="members"),
    path("crew/benders/members/new/", member_requests.member, name="member-new"),
    path("crew/benders/members/<slug:slug>/", member_requests.member, name="member"),
    path("crew/benders/members/<slug:slug>/archive/", member_requests.archive_member, name="member-archive"),
    path("crew/benders/members/<slug:slug>/sign-ins/new/", signins.new, name="member-sign-in-new"),
    path("crew/benders/members/<slug:slug>/sign-ins/<int:pk>/", signins.show, name="member-sign-in"),
    path("crew/benders/members/<slug:slug>/sign-ins/<int:pk>/renew/", signins.renew, name="member-sign-in-renew"),
    path("crew/benders/members/<slug:slug>/sign-ins/<int:pk>/close/", signins.shut, name="member-sign-in-shut"),
    path("cooperatives/<slug:lender>/bookings/", own.show, name="own"),
    path("cooperatives/<slug:lender>/bookings/<int:pk>/", own.show_booking, name="own-booking"),
    path("cooperatives/<slug:lender>/bookings/<int:pk>/hoop/", hoops.hoop, name="own-hoop"),
    path("cooperatives/<slug:lender>/hoops/<int:pk>/", hoops.hoop_back, name="own-hoop-back"),
    path("cooperatives/<slug:lender>/ask/", own.ask, name="own-ask"),
    path("cooperatives/<slug:lender>/days/", own.days, name="own-days"),
    path("cooperatives/<slug:lender>/requests/<int:pk>/", own.show_request, name="own-request"),
    path("cooperatives/<slug:lender>/requests/<int:pk>/withdraw/", own.withdraw, name="own-withdraw"),
    path("cooperatives/<slug:lender>/calendar/", own.calendar, name="own-calendar"),
    path("cooperatives/<slug:lender>/calendar/make/", own.make_calendar, name="own-calendar-make"),
    path("cooperatives/<slug:lender>/calendar/cancel/", own.revoke_calendar, name="own-calendar-revoke"),
    path("cooperatives/<slug:lender>/understood/", own.understood, name="own-understood"),
    path("borrowing/", own.before, name="own-before"),
    path("borrowing/<path:rest>", own.before, name="own-page-before"),
    path("crew/benders/calendars/<slug:slug>/", bookings.feed, name="bender-feed"),
    path("crew/benders/calendars/<slug:slug>/make/", bookings.make_feed, name="bender-feed-make"),
    path("crew/benders/calendars/<slug:slug>/cancel/", bookings.revoke_feed, name="bender-feed-revoke"),
]
