"""`python -m draincurve`."""

from draincurve.cli import main

main()
