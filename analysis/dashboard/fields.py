"""Input fields for the keys of a record; every change goes to disk at once."""

from __future__ import annotations

import dataclasses
from typing import Any

import streamlit as st

from ..entry.to_record import with_unit
from ..record.faults import Fault
from ..record.kinds import about, choices, key_type
from . import hall
from .form import Field
from .plain_words import what_is_wrong
from .say import say


def held(plain: dict[str, Any], key: str) -> str:
    """Text that a key holds now, as its field shows it; empty where there is none."""
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


def field(test: hall.Open, plain: dict[str, Any], faults: list[Fault], one: Field, system: str) -> None:
    """Draw one field; it always shows what the draft holds."""
    parts = one.key.split(".")
    value = held(plain, one.key)
    kind = key_type(parts)
    options = {"choice": choices(parts), "yes or no": ["yes", "no"]}.get(kind)
    widget = _widget(_name(test.draft, one.key), value)
    saved = {"key": widget, "on_change": _keep, "args": (test.draft,), "help": about(parts) or None}
    if options:
        shown = ["", *options] if value in ("", *options) else ["", *options, value]
        st.selectbox(one.label, shown, index=shown.index(value), format_func=lambda item: item or "not said", **saved)
    else:
        st.text_input(one.label, value, placeholder=one.example(system), **saved)
        _say_unit(_name(test.draft, one.key), value, one.example(system))
    if value:
        _own_fault(faults, parts)


@dataclasses.dataclass(frozen=True)
class _Typed:
    """What this session's fields have stored: changed in place, because a word to the session may end a callback."""

    stored: dict[str, str] = dataclasses.field(default_factory=dict)  # widget -> the text of it that is on disk
    own: set[str] = dataclasses.field(default_factory=set)  # fields whose newest change came from the field itself
    examples: dict[str, str] = dataclasses.field(default_factory=dict)  # field -> example, with a bare number's unit
    given: dict[str, tuple[str, str]] = dataclasses.field(default_factory=dict)  # field -> bare number, its text


def _name(draft: str, key: str) -> str:
    return f"field {draft} {key}"


def _widget(name: str, value: str) -> str:
    """Key of a field's widget, a new one where something else than the widget has changed what the draft holds."""
    # A browser keeps the text of a field whose key stays the same, and would send it back over what was stored in
    # another way. What is set in the session instead is lost where a run is cut short.
    shown, turn = f"shown {name}", f"turn {name}"
    typed = st.session_state.setdefault("typed", _Typed())
    if st.session_state.get(shown, value) != value and name not in typed.own:
        st.session_state[turn] = st.session_state.get(turn, 0) + 1
    st.session_state[shown] = value
    typed.own.discard(name)
    widget = f"{name} {st.session_state.get(turn, 0)}"
    typed.stored.setdefault(widget, value)
    return widget


def _say_unit(name: str, value: str, example: str) -> None:
    """Say in which unit a bare number was taken."""
    typed = st.session_state["typed"]
    typed.examples[name] = example
    bare, taken = typed.given.get(name, ("", ""))
    if taken and taken == value:
        say(f"{bare} → {taken}")


def _own_fault(faults: list[Fault], parts: list[str]) -> None:
    path = tuple(int(part) if part.isdigit() else part for part in parts)
    for fault in faults:
        if fault.path[: len(path)] == path:
            says = what_is_wrong(fault)
            say(f"{says[:1].upper()}{says[1:]}.", "error")
            return


def _keep(draft: str) -> None:
    """Store whatever differs in any field, not only in the one that was left."""
    # On a slow machine a second field is left while the run of the first goes on. That run is then ended, in the
    # middle of its callbacks too, and the callbacks it has not come to are never called.
    session = st.session_state.to_dict()  # without giving way, see `hall.store`
    typed, begin = session["typed"], _name(draft, "")
    new = {widget: text or "" for widget, text in session.items()
           if widget.startswith(begin) and (text or "") != typed.stored.get(widget, text or "")}
    for widget, text in new.items():
        name = widget.rpartition(" ")[0]
        typed.own.add(name)
        taken = with_unit(text.strip(), typed.examples.get(name, ""))
        if taken != text.strip():
            typed.given[name] = (text.strip(), taken)
            hall.store(draft, {name.removeprefix(begin): taken})
        else:
            typed.given.pop(name, None)
            hall.store(draft, {name.removeprefix(begin): text})
        typed.stored[widget] = text


def fields(test, plain, faults, wanted: list[Field], system: str, columns: int = 2) -> None:
    """Draw several fields side by side."""
    for begin in range(0, len(wanted), columns):
        for place, item in zip(st.columns(columns), wanted[begin : begin + columns], strict=False):
            with place:
                field(test, plain, faults, item, system)
