"""From rows to decisions: read, describe, fit, judge, decide."""
