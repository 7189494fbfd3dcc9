"""Where tests are kept: an SQLite file of one person, or a cooperative's PostgreSQL.

A record is kept as it was entered; every change is a new version, nothing is overwritten. Figures are computed from the
texts (`summaries`) and kept beside them by the text's digest, with the method that made them: the record is the truth.
"""

from .errors import NotFound, StoreError
from .kept import Kept, Saved, Version
from .rows import with_id
from .viewer import OWNER, Viewer
from .writer import Store

__all__ = ["OWNER", "Kept", "NotFound", "Saved", "Store", "StoreError", "Version", "Viewer", "with_id"]
