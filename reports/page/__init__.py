"""The page: templates and style."""
