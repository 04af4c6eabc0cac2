from django.apps import AppConfig


class HoopsConfig(AppConfig):
    name = "farmbuild.hoops"

    def ready(self) -> None:
        from farmbuild.hoops.batches import receivers
        from farmbuild.sites.signals import asking_what_is_outdated

        asking_what_is_outdated.connect(receivers.tell_what_is_outdated)
