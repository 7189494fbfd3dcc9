"""Pasted, CSV and XLSX tables of readings."""
