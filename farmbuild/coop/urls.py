"""Addresses of this app; each room has a list of its own."""

from farmbuild.coop.charges import urls as charges
from farmbuild.coop.common import urls as common
from farmbuild.coop.joint import urls as joint
from farmbuild.coop.members import urls as members
from farmbuild.coop.pipe import urls as pipe
from farmbuild.coop.statement import urls as statement

app_name = "coop"
urlpatterns = [
    *members.urlpatterns,
    *joint.urlpatterns,
    *charges.urlpatterns,
    *statement.urlpatterns,
    *pipe.urlpatterns,
    *common.urlpatterns,
]
