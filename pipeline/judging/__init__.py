"""Units against the fleet."""
