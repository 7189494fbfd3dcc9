"""What may be wrong, with its evidence, and what to mind."""
