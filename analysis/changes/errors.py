"""What a change can fail with."""

from __future__ import annotations


class ChangeError(ValueError):
    """A change that cannot be understood or made; one sentence."""
