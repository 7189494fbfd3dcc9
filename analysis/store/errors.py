"""What can be wrong with a store, in words."""

from __future__ import annotations


class StoreError(ValueError):
    """A fault that a person can do something about; its text is one sentence."""


class Unreadable(StoreError):
    """The store, or a table of it, is damaged or missing."""


class NotFound(StoreError):
    """There is no such test for this viewer; the same whether it is missing or another's."""
