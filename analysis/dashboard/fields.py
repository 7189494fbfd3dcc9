"""Input fields for the keys of a record; every change goes to disk at once."""

from __future__ import annotations

from typing import Any

import streamlit as st

from analysis.dashboard import hall
from analysis.record.faults import Fault
from analysis.record.kinds import about, choices, key_type


def held(plain: dict[str, Any], key: str) -> str:
    """Text that a key holds now.

    Parameters
    ----------
    plain : dict
        The draft's plain values.
    key : str
        Dotted key; list items are numbers from 0.

    Returns
    -------
    str
        As it is shown in its field; empty where there is none.
    """
    here: Any = plain
    for part in key.split("."):
        if isinstance(here, list):
            here = here[int(part)] if part.isdigit() and int(part) < len(here) else None
        else:
            here = here.get(part) if isinstance(here, dict) else None
        if here is None:
            return ""
    if isinstance(here, bool):
        return "yes" if here else "no"
    if isinstance(here, list):
        # A decimal comma inside needs another sign between the items.
        between = "; " if any("," in str(item) for item in here) else ", "
        return between.join(f"{item:g}" if isinstance(item, float) else str(item) for item in here)
    return str(here)


def field(test: hall.Open, plain: dict[str, Any], faults: list[Fault], key: str, label: str, example: str = "") -> None:
    """Draw one field.

    Parameters
    ----------
    test : Open
        The draft.
    plain : dict
        Its plain values.
    faults : list of Fault
        Of the whole record; the field shows its own.
    key : str
        Dotted key.
    label : str
        What the person reads.
    example : str
        Shown while the field is empty.
    """
    parts = key.split(".")
    value = held(plain, key)
    widget = f"field {test.draft} {key}"
    kind = key_type(parts)
    options = {"choice": choices(parts), "yes or no": ["yes", "no"]}.get(kind)
    saved = {"key": widget, "on_change": _keep, "args": (test.draft, key, widget), "help": about(parts) or None}
    if options:
        shown = ["", *options] if value in ("", *options) else ["", *options, value]
        st.selectbox(label, shown, index=shown.index(value), format_func=lambda item: item or "not said", **saved)
    else:
        st.text_input(label, value, placeholder=example, **saved)
    if value:
        _own_fault(faults, parts)


def _own_fault(faults: list[Fault], parts: list[str]) -> None:
    path = tuple(int(part) if part.isdigit() else part for part in parts)
    for fault in faults:
        if fault.path[: len(path)] == path:
            st.error(fault.says)
            return


def _keep(draft: str, key: str, widget: str) -> None:
    hall.store(draft, {key: st.session_state[widget] or ""})


def fields(test, plain, faults, wanted: list[tuple[str, str, str]], columns: int = 2) -> None:
    """Draw several fields side by side.

    Parameters
    ----------
    test, plain, faults
        See `field`.
    wanted : list of (key, label, example)
        In reading order.
    columns : int
        How many stand side by side on a wide screen.
    """
    for begin in range(0, len(wanted), columns):
        for place, item in zip(st.columns(columns), wanted[begin : begin + columns], strict=False):
            with place:
                field(test, plain, faults, *item)
