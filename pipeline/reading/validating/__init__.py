"""Typed rows against their schemas: reasons in a technician's words, and the row accounting."""
