"""The one way in which a text that may hold what a person typed, or what stands in a file, reaches the screen."""

from __future__ import annotations

from html import escape

import streamlit as st


def say(text: str, kind: str = "") -> None:
    """Write a text as text, never as markup: plain, or set off as an ``error``, a ``warning`` or ``done``."""
    if kind:
        st.html(f'<div class="say say-{kind}" role="alert">{escape(text)}</div>')
    else:
        st.text(text)
