from django.apps import AppConfig


class CatalogueConfig(AppConfig):
    name = "farmbuild.catalogue"

    def ready(self) -> None:
        from farmbuild.catalogue.receivers import tell_what_is_priced
        from farmbuild.catalogue.usual import answer_if_usual
        from farmbuild.common.signals import asking_if_usual
        from farmbuild.orgs.signals import asking_what_is_priced

        asking_what_is_priced.connect(tell_what_is_priced)
        asking_if_usual.connect(answer_if_usual)
