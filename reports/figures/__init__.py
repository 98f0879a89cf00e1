"""Figures as SVG, one subject a file."""
