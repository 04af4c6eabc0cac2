from django.apps import AppConfig
from django.utils.module_loading import autodiscover_modules


class HistoryConfig(AppConfig):
    name = "farmbuild.history"
    verbose_name = "What changed"

    def ready(self) -> None:
        # Each room says itself what is kept of its tables, as it says what the admin shows.
        autodiscover_modules("what_changed")
