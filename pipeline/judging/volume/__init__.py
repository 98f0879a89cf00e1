"""Oil that went in against oil that came out: leaks told from drains that left oil behind."""
