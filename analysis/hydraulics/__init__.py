"""Water in pipes: friction, laterals, the supply's chain, and the working point of a whole system."""
