"""The sections of a report, one subject in each file."""
