"""Quantity text <-> SI floats, the closed table of units, how quantities are shown."""
