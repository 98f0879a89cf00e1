"""Adds one drain to a log: checked together with the whole log, and written completely or not at all."""
