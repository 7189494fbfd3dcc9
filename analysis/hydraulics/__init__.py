"""Water in pipes: friction and laterals."""
