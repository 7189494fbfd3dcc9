"""Evenfall: reads a catch-can test of an irrigated floor.

    import evenfall

    test = evenfall.read("test.toml")          # or from_grid(...), from_frame(...)
    result = evenfall.assess(test)
    result.cu, result.du_low_quarter           # at the cans [%]
    result.whole_floor.du_low_quarter          # all the ground [%], with its interval
    result.plot().show()

Beside these: `try_change`, `plan`, `more_cans`, `mended`, `members`, `simulate`, and every index as a function of
arrays (`cu(depths)`). Each is loaded when it is first asked for.

Conventions of the whole package
--------------------------------
Places are measured from one corner: stand at the inlet end wall and look along the zone;
x [m] runs across from the left edge, y [m] along from the inlet end wall.
Arrays of cans have shape (..., n); leading axes are a batch of tests.
Maps have shape (rows along y, columns along x).
Quantities in a record are SI (`units`); depths are [mm], rates [mm/h].
CU, DU, CV and statistical uniformity are percents; parts of a mean are fractions [1].
"""

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from .api.assessed import Assessment, FloorMap, assess, plan, try_change
    from .api.further import mended, more_cans
    from .api.members import members
    from .api.records import from_frame, from_grid, read
    from .api.simulated import simulate
    from .record.model import Record

__version__ = "0.1.0"
_HOME = {"read": "api.records", "from_grid": "api.records", "from_frame": "api.records", "simulate": "api.simulated",
         "assess": "api.assessed", "try_change": "api.assessed", "plan": "api.assessed", "Assessment": "api.assessed",
         "FloorMap": "api.assessed", "members": "api.members", "more_cans": "api.further", "mended": "api.further",
         "Record": "record.model"}
__all__ = ["Assessment", "FloorMap", "Record", "assess", "from_frame", "from_grid", "members", "mended", "more_cans",
           "plan", "read", "simulate", "try_change"]


def __getattr__(name: str) -> Any:
    """Load what is asked for: a public name, or an index of the table."""
    if name in _HOME:
        return getattr(import_module(f".{_HOME[name]}", __name__), name)
    if not name.startswith("_"):
        from .api.indices import index_function
        from .cans.index_table import INDICES

        if name in INDICES:
            return index_function(name)
    raise AttributeError(f"evenfall has no {name!r}")


def __dir__() -> list[str]:
    from .cans.index_table import INDICES

    return sorted([*__all__, *INDICES, "__version__"])
