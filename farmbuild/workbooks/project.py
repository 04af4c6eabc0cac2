"""The project workbook: a whole season as a spreadsheet that a person can fill in."""

from farmbuild.workbooks.project_read import Problem, ProjectProblems, read_project
from farmbuild.workbooks.project_write import project_template, write_project

__all__ = ["Problem", "ProjectProblems", "project_template", "read_project", "write_project"]
