"""Invented fleets to try the program on."""
