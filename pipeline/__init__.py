"""From rows to decisions: read, clean, validate, describe, fit, judge, decide."""
