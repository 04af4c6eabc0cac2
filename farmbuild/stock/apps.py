from django.apps import AppConfig


class StockConfig(AppConfig):
    name = "farmbuild.stock"

    def ready(self) -> None:
        import farmbuild.stock.reserving.receivers  # noqa: F401
