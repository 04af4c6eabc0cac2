"""Addresses of one's own sign-in, of the people of an organisation, and of joining one."""

from django.urls import path

from farmbuild.access.views import account, invitations, joining, people, weekly

app_name = "access"
urlpatterns = [
    path("account/", account.show, name="account"),
    path("account/name/", account.name, name="name"),
    path("account/second-step/", account.step_on, name="step-on"),
    path("account/second-step/paper/", account.step_papers, name="step-papers"),
    path("account/second-step/off/", account.step_off, name="step-off"),
    path("account/sign-ins/", account.sign_ins, name="sign-ins"),
    path("account/sign-ins/end/", account.end, name="sign-ins-end"),
    path("account/log/", account.own_log, name="own-log"),
    path("account/weekly/", weekly.choose, name="weekly"),
    path("weekly/<str:token>/", weekly.end, name="weekly-end"),
    path("join/", joining.by_code, name="join-code"),
    path("join/now/", joining.join, name="join"),
    path("join/<str:token>/", joining.by_link, name="join-link"),
    path("people/", people.show_all, name="people"),
    path("people/log/", people.all_log, name="people-log"),
    path("people/invite/", invitations.new, name="invite"),
    path("people/invitations/<int:pk>/", invitations.show, name="invitation"),
    path("people/invitations/<int:pk>/renew/", invitations.renew, name="invitation-renew"),
    path("people/invitations/<int:pk>/withdraw/", invitations.withdraw, name="invitation-withdraw"),
    path("people/<int:pk>/", people.show, name="person"),
    path("people/<int:pk>/role/", people.role, name="person-role"),
    path("people/<int:pk>/acts/", people.acts, name="person-acts"),
    path("people/<int:pk>/out/", people.out, name="person-out"),
    path("people/<int:pk>/end/", people.end, name="person-end"),
    path("people/<int:pk>/link/", people.link, name="person-link"),
]
