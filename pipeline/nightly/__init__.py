"""The batch that runs every night with nobody watching."""
