from django.apps import AppConfig
from django.conf import settings


class CommonConfig(AppConfig):
    name = "farmbuild.common"

    def ready(self) -> None:
        from farmbuild.common import checks  # noqa: F401
        from farmbuild.common.columns import use_quick_columns
        from farmbuild.common.own_files import keep_to_owner

        use_quick_columns()
        database = settings.DATABASES["default"]
        is_file = database["ENGINE"] == "farmbuild.common.sqlite"
        keep_to_owner(settings.DATA_DIR, str(database["NAME"]) if is_file else "")
