"""One drain written into a log from the bench: checked as the whole log is, whole or not at all."""
