"""The heads' pattern: overlap, fit to the cans, whole floor, weak heads, simulated tunnels."""
