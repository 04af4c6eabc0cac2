from django.apps import AppConfig


class CoopConfig(AppConfig):
    name = "farmbuild.coop"

    def ready(self) -> None:
        from farmbuild.coop import receivers
        from farmbuild.coop.members import receivers as members
        from farmbuild.coop.members.panels import PANELS
        from farmbuild.coop.statement.panel import PANEL as ACCOUNT
        from farmbuild.crew.signals import asking_farms_of_member, asking_members_of_farm
        from farmbuild.orgs.signals import asking_what_is_priced

        asking_what_is_priced.connect(receivers.tell_what_is_priced)
        asking_members_of_farm.connect(members.tell_members)
        asking_farms_of_member.connect(members.tell_farm)
        PANELS.append(ACCOUNT)
