"""Plotly figures."""
