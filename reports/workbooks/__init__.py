"""Workbooks: one to type drains into, one with the result tables."""
