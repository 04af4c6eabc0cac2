"""Addresses of members and their farms."""

from django.urls import path

from farmbuild.coop.members.views import farms, members, seen

urlpatterns = [
    path("cooperative/members/", members.show_all, name="members"),
    path("cooperative/move-members/", members.move_all, name="members-move"),
    path("cooperative/members/<slug:slug>/", members.show, name="member"),
    path("cooperative/members/<slug:slug>/move/", members.move, name="member-move"),
    path("cooperative/members/<slug:slug>/end/", members.end, name="member-end"),
    path("cooperative/members/<slug:slug>/card/", members.show_card, name="member-card"),
    path("cooperative/members/<slug:slug>/card/new/", members.new_card, name="member-card-new"),
    path("cooperative/members/<slug:slug>/card/withdraw/", members.end_card, name="member-card-end"),
    path("farm-card/", farms.by_code, name="card-code"),
    path("farm-card/take/", farms.take, name="card-take"),
    path("farm-card/<str:token>/", farms.by_link, name="card-link"),
    path("cooperatives/", farms.show_all, name="cooperatives"),
    path("cooperatives/<slug:lender>/", seen.show, name="seen"),
    path("cooperatives/<slug:lender>/own-farm/", farms.move, name="seen-move"),
    path("cooperatives/<slug:lender>/leave/", farms.leave, name="seen-leave"),
]
