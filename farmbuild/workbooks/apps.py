from django.apps import AppConfig


class WorkbooksConfig(AppConfig):
    name = "farmbuild.workbooks"
