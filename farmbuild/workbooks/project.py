"""The project workbook: a whole season as a spreadsheet that a person can fill in."""

from farmbuild.workbooks.project_read import Problem, ProjectBook, ProjectProblems, read_project, read_project_book
from farmbuild.workbooks.project_write import project_template, write_project

__all__ = [
    "Problem",
    "ProjectBook",
    "ProjectProblems",
    "project_template",
    "read_project",
    "read_project_book",
    "write_project",
]
