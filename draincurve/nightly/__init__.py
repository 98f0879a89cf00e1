"""The batch run: every night with nobody watching, one at a time, whole or not at all, and remembered."""
