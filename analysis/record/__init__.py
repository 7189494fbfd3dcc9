"""The record: its model, its checks, and where its heads and cans are."""
