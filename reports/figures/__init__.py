"""Pictures as SVG, one subject a file; the only folder that imports matplotlib's axes."""
