"""The application for a WSGI server."""

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "farmbuild.settings")
application = get_wsgi_application()

# Apps are loaded by now.
from farmbuild.common.background import watch  # noqa: E402
from farmbuild.common.checks import tell_of_proxy  # noqa: E402
from farmbuild.common.request_size import keep_waitress_to_it  # noqa: E402
from farmbuild.common.schema_version import refuse_another_version  # noqa: E402

refuse_another_version()
tell_of_proxy()
keep_waitress_to_it()
watch()
