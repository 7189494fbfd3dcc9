"""What can be wrong with a store, in words."""

from __future__ import annotations


class StoreError(ValueError):
    """A fault that a person can do something about; its text is one sentence."""


class NotFound(StoreError):
    """There is no such test for this viewer; the same whether it is missing or another's."""
