from farmbuild.common.pages import ROWS, done, stored
from farmbuild.common.pages import OrgList as CrewList

__all__ = ["ROWS", "CrewList", "done", "stored"]
