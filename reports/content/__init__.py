"""What a report says, free of any layout."""
