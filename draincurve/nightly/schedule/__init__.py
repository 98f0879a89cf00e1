"""Files that let the system start a night: a systemd service with its timer, or a line for cron."""
