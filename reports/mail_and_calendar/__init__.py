"""The first screen as a mail, and due dates as a calendar."""
