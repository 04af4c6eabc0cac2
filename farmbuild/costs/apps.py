from django.apps import AppConfig


class CostsConfig(AppConfig):
    name = "farmbuild.costs"

    def ready(self) -> None:
        from farmbuild.costs.receivers import tell_what_is_priced
        from farmbuild.orgs.signals import asking_what_is_priced

        asking_what_is_priced.connect(tell_what_is_priced)
