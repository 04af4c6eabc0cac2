from django.apps import AppConfig


class CoopConfig(AppConfig):
    name = "farmbuild.coop"

    def ready(self) -> None:
        from farmbuild.coop import receivers
        from farmbuild.orgs.signals import asking_what_is_priced

        asking_what_is_priced.connect(receivers.tell_what_is_priced)
