"""Lists of what is missing or not understood, as pages show them."""

from __future__ import annotations

import streamlit as st

from ..entry.cans import Unread
from .plain_words import Problem

_MOST, _MOST_UNREAD = 15, 12


def show_problems(found: list[Problem], title: str) -> None:
    """List problems under a title; nothing where there is none."""
    if not found:
        return
    lines = [f"• {problem.says}" for problem in found[:_MOST]]
    if len(found) > _MOST:
        lines.append(f"and {len(found) - _MOST} more")
    st.text("\n".join([title, *lines]))


def show_unread(unread: list[Unread]) -> None:
    """List texts in place of readings that are no numbers."""
    if not unread:
        return
    lines = [f"• {item.says}" for item in unread[:_MOST_UNREAD]]
    if len(unread) > _MOST_UNREAD:
        lines.append(f"and {len(unread) - _MOST_UNREAD} more")
    with st.container(border=True):
        st.text("\n".join(["These are no readings, and count as none:", *lines]))
