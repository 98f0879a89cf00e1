"""What is printed: the report as report.pdf, and the card for the bench."""
