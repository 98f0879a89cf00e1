"""Left and right legs of one fork: pairs that differ more than pairs do, and entries that may be swapped."""
