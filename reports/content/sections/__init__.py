"""The sections of a report, one subject a file."""
