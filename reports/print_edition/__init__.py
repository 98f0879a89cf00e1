"""What is printed: report.pdf and the card for the bench."""
