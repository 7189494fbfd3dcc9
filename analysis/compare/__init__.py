"""Many tests held against each other."""
