"""Exit statuses of every command; 2, wrong usage, is the command line's own."""

DONE, FAILED, WITH_HELD_BACK = 0, 1, 3
