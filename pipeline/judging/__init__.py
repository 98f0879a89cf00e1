"""What the fits say of the fleet, and how far they can be trusted."""
