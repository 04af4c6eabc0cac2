from django.apps import AppConfig


class BuyingConfig(AppConfig):
    name = "farmbuild.buying"

    def ready(self) -> None:
        from farmbuild.buying.receivers import tell_what_comes, tell_what_is_priced
        from farmbuild.orgs.signals import asking_what_is_priced
        from farmbuild.stock.signals import asking_what_comes

        asking_what_is_priced.connect(tell_what_is_priced)
        asking_what_comes.connect(tell_what_comes)
