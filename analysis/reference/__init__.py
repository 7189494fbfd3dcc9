"""Cited data: yardsticks, soils."""
