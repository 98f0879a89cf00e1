"""What people look at: tables, figures and the page."""
