"""How the columns of Houses and Recipes are headed, by field: all that is taken from the application."""

from farmbuild.workbooks import project_layout

HEADINGS = {
    sheet.title: {sheet.key: sheet.by_name[sheet.key].heading} | {field.name: field.heading for field in sheet.fields}
    for sheet in (project_layout.HOUSES, project_layout.RECIPES)
}
