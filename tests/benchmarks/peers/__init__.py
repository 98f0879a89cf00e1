"""Other programs for the same model, each run on the same rows and judged by the same likelihood."""
