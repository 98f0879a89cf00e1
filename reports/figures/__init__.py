"""Pictures as SVG, one subject in each file."""
