"""What every table and every setting must be: names, units, limits and why."""
