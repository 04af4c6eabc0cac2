from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    name = "farmbuild.catalogue"

    def ready(self) -> None:
        from farmbuild.catalogue.receivers import tell_what_is_priced
        from farmbuild.orgs.signals import asking_what_is_priced

        asking_what_is_priced.connect(tell_what_is_priced)
