"""From files as typed to accepted rows, rows held back with their reasons, and questions."""
