"""Many tests as a frame: who needs help first."""

from __future__ import annotations

import os
import tempfile
import warnings
from pathlib import Path
from typing import TYPE_CHECKING

from ..compare.comparison import compare_tests
from ..compare.text import members_rows
from ..store import OWNER, Store
from ..store.complete import complete
from ..store.folders import take_in
from ..store.usual import keep_figures, kept_figures, open_usual

if TYPE_CHECKING:
    import pandas as pd


def members(where: str | os.PathLike[str] = "", figure: str = "du_low_quarter", *, workers: int = 1) -> pd.DataFrame:
    """Hold many tests against each other, each tunnel by its newest one.

    Parameters
    ----------
    where : path or str
        A folder of records (only read), a store's file or a server's address; your own store if left out.
    figure : str
        ``du_low_quarter`` or ``cu`` of the whole floor.
    workers : int [1]
        Processes that estimate whole floors at the same time; more than one needs a script that can be imported.

    Returns
    -------
    pandas.DataFrame
        A row each tunnel, those in most need first; ``attrs["left_out"]`` has a line for each fault of a file that is
        left out because of it.

    Raises
    ------
    ValueError
        For a folder, store or figure that cannot be used.

    Warns
    -----
    UserWarning
        Where files were left out.
    """
    if where and Path(where).is_dir():
        with tempfile.TemporaryDirectory() as work:
            store = Store(Path(work) / "folder.sqlite")
            return _frame(store, figure, take_in(store, OWNER, where).faults, workers)
    if where and "://" not in str(where) and not Path(where).is_file():
        raise ValueError(f"received {os.fspath(where)!r}, which is neither a folder nor a file, expected a folder of "
                         "records, a store's file or postgresql://..., check its name")
    return _frame(open_usual(os.fspath(where)), figure, [], workers)


def _frame(store: Store, figure: str, faults: list[str], workers: int) -> pd.DataFrame:
    import pandas as pd

    kept_figures(store, OWNER)
    faults = faults + complete(store, OWNER, workers=workers)
    keep_figures(store, OWNER)
    names, *rows = members_rows(compare_tests(store.tests(OWNER), figure, "metric"))
    frame = pd.DataFrame(rows, columns=[_with_unit(name) for name in names])
    frame.attrs["left_out"] = faults
    if faults:
        warnings.warn(f"{len(faults)} faults in files that were left out, see attrs['left_out']: {faults[0]}",
                      stacklevel=3)
    return frame


def _with_unit(name: str) -> str:
    """A column's name with its unit in brackets, as in the frames of one test."""
    if name in ("low", "high"):
        return f"{name} [%]"
    if name == "chance of lowest quarter":
        return f"{name} [1]"
    return f"{name[:-2]} [%]" if name.endswith(" %") else name
