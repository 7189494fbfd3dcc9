"""The PostgreSQL server of the store's tests."""

from ..store.conftest import server  # noqa: F401
