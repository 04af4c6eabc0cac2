from django.apps import AppConfig


class QuotesConfig(AppConfig):
    name = "farmbuild.quotes"

    def ready(self) -> None:
        from farmbuild.orgs.signals import asking_what_is_priced
        from farmbuild.quotes import receivers
        from farmbuild.sites.signals import asking_what_is_outdated

        asking_what_is_priced.connect(receivers.tell_what_is_priced)
        asking_what_is_outdated.connect(receivers.tell_what_is_outdated)
