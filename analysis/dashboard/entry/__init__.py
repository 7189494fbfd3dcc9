"""Entry of readings: keypad and table as one component."""
