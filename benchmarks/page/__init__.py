"""How quick, how light and how steady the page is."""
