"""The nightly run: unattended, one at a time, complete or without effect, and recorded in a ledger."""
