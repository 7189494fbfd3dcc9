"""Run times, litres and what unevenness costs."""
