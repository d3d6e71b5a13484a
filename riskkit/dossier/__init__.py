"""The paper: an assessment becomes a view, the view HTML, the HTML a PDF. Jinja, WeasyPrint and pikepdf live here only."""
