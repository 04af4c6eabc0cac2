"""``python -m tests.quick_migrations`` migrates a database of tests, with or without rows."""

import django
from django.core.management import call_command

if __name__ == "__main__":
    django.setup()
    from farmbuild.common.quick_migrations import quick_migrations

    with quick_migrations():
        call_command("migrate", verbosity=0, interactive=False)
