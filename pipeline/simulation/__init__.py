"""Invented fleets with a known truth, for samples and for checking the fit against."""
