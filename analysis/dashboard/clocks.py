"""Moments as the person's clock shows them."""

from __future__ import annotations

import datetime
import zoneinfo

import streamlit as st


def clock(moment: str) -> str:
    """``today 14:05`` or ``3 March 2027, 14:05``, by the browser's time zone, else this machine's."""
    return clock_in(moment, _zone(), datetime.datetime.now(datetime.UTC))


def clock_in(moment: str, zone: datetime.tzinfo | None, now: datetime.datetime) -> str:
    """Write a moment as a clock in a time zone shows it."""
    at = datetime.datetime.fromisoformat(moment).astimezone(zone)
    day = "today" if at.date() == now.astimezone(zone).date() else f"{at.day} {at:%B} {at.year},"
    return f"{day} {at:%H:%M}"


def _zone() -> datetime.tzinfo | None:
    try:
        return zoneinfo.ZoneInfo(st.context.timezone or "")
    except (ValueError, OSError, zoneinfo.ZoneInfoNotFoundError):
        offset = st.context.timezone_offset
        return None if offset is None else datetime.timezone(datetime.timedelta(minutes=-offset))
