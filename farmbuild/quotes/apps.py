from django.apps import AppConfig


class QuotesConfig(AppConfig):
    name = "farmbuild.quotes"

    def ready(self) -> None:
        from farmbuild.orgs.signals import asking_what_is_priced
        from farmbuild.quotes.receivers import tell_what_is_priced

        asking_what_is_priced.connect(tell_what_is_priced)
