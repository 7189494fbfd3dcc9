"""What comes before readings: how many lines, where cans stand, how long to run."""
