from django.apps import AppConfig


class HoopsConfig(AppConfig):
    name = "farmbuild.hoops"

    def ready(self) -> None:
        from farmbuild.hoops.batches import receivers
        from farmbuild.hoops.benders.signals import asking_findings
        from farmbuild.orgs.signals import asking_what_is_priced
        from farmbuild.sites.signals import asking_what_is_outdated

        asking_findings.connect(receivers.tell_findings)
        asking_what_is_priced.connect(receivers.tell_what_is_priced)
        asking_what_is_outdated.connect(receivers.tell_what_is_outdated)
