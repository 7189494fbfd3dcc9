"""Parts of the page of members."""

from __future__ import annotations

import tempfile
from pathlib import Path

import streamlit as st

from ..compare import words
from ..compare.comparison import FIGURES, Comparison, compare_tests, usual_units
from ..compare.rows import Row
from ..compare.text import members_rows
from ..entry.drafts.copies import draft_folders
from ..figures.members import change_rows, interval_rows, trend_lines
from ..figures.small_maps import small_maps
from ..record.file import parse_record
from ..record.samples import SHOWS, sample_text
from ..result.tables import to_csv
from ..store import Kept, StoreError, Viewer
from ..store.archive import archive_bytes, last_archived
from ..store.bundles import bundle, unpack
from ..store.complete import complete
from ..store.folders import take_in
from ..store.rows import digest_of
from ..store.sharing import FEWEST_IN_BAND, bands, without_names
from ..store.summaries import summary_of
from . import hall, keeping
from .clocks import clock
from .handing import file_button
from .keep_parts import open_kept, undo_part
from .say import say

ROWS = 30          # tunnels on one page of the figure
SECONDS = 0.6      # of one whole floor, about; own measurement
AT_A_TIME = 200    # whole floors for one press of the button
SAMPLED = 40       # newest tests that say which units are usual here
_MOST_FAULTS = 100


def choose() -> tuple[str, str]:
    """Let the person choose what is compared, and units."""
    with st.container(horizontal=True):
        figure = st.segmented_control("Compared", list(FIGURES), default="du_low_quarter", format_func=FIGURES.get,
                                      key="members_figure", required=True)
        store, viewer = keeping.store(), keeping.viewer()
        usual = st.session_state.get("units") or usual_units(store.tests(viewer, most=SAMPLED))
        units = hall.ask_units(usual, "members_units")
    return figure or "du_low_quarter", units


def compared(figure: str, units: str) -> Comparison:
    """Hold everything against each other that the person may see; shared, so nothing in it may be changed."""
    store = keeping.store()
    return _compared(store.name, store.stamp(), keeping.viewer(), figure, units)


@st.cache_resource(max_entries=4, show_spinner="Comparing …")
def _compared(name: str, stamp: str, viewer: Viewer, figure: str, units: str) -> Comparison:
    return compare_tests(keeping.store().tests(viewer), figure, units)


def invented() -> None:
    """Offer an invented cooperative to somebody who has no tests yet."""
    if st.button("Look at an invented cooperative", key="members_invented"):
        st.session_state["members invented"] = True
    if not st.session_state.get("members invented"):
        return
    found = compare_tests(_examples(), system=st.session_state.get("units"))
    st.text("The bundled examples, as if they were saved here. No such farms exist.")
    who_needs_help(found)
    small_maps_of(found)
    over_time(found)


@st.cache_resource(max_entries=1, show_spinner="Estimating the floors of the examples …")
def _examples() -> list[Kept]:
    tests = []
    for name in SHOWS:
        text = sample_text(name)
        record = parse_record(text)
        tests.append(Kept(record.test.id or name, 1, "", digest_of(text), summary_of(record)))
    return tests


def mended() -> None:
    """Say what the store had to make anew, once."""
    for says in keeping.store().news():
        st.text(says)


def estimate_missing(found: Comparison) -> None:
    """Offer to estimate the whole floors that are not estimated yet."""
    if not found.waiting:
        return
    count = min(found.waiting, AT_A_TIME)
    st.text(f"{words.counted(found.waiting, 'test')} {'has' if found.waiting == 1 else 'have'} no estimate of the "
            "whole floor yet, and only that is compared.")
    if not st.button(f"Estimate {words.counted(count, 'whole floor')} (about {max(1, round(count * SECONDS))} s)",
                     type="primary", key="estimate"):
        return
    bar = st.progress(0.0, "Estimating …")
    faults = complete(keeping.store(), keeping.viewer(), most=count, progress=lambda done, total: bar.progress(
        done / total, f"{done} of {total} whole floors. Each is kept at once; leaving this page stops it."))
    if faults:
        _tell(faults)
    else:
        st.rerun()


def who_needs_help(found: Comparison) -> None:
    """The tunnels with their intervals, those in most need first."""
    for says in (*words.all_words(found), words.year_words(found), words.water_words(found)):
        if says:
            st.text(says)
    rows = _page_of(found)
    name = FIGURES[found.figure]
    hall.chart(interval_rows(rows, found, hall.look(system=found.system)), f"members rows {found.figure}",
               f"{name} of the whole floor with its interval for {words.counted(len(rows), 'tunnel')}: " + "; ".join(
                   f"{row.name} {words.span(row.figure)}" for row in rows if row.figure))
    with st.expander("As a table"):
        st.dataframe([_table_row(row) for row in rows], hide_index=True, key=f"members table {found.figure}")
    told = [row for row in rows if row.unlike or (row.kept.summary.floor and row.kept.summary.floor.cause)]
    if told:
        with st.expander("What may be wrong, and what was unlike"):
            for row in told:
                floor = row.kept.summary.floor
                cause = [f"Likeliest cause: {floor.cause[found.system]}."] if floor and floor.cause else []
                st.text("\n".join([_dated(row), *row.unlike, *cause]))


def to_check(found: Comparison) -> None:
    """Slips in the records that would make the comparison wrong."""
    if not found.to_check:
        return
    with st.expander(f"To check in the records ({len(found.to_check)})", expanded=len(found.to_check) < 4):
        for says in found.to_check[:_MOST_FAULTS]:
            st.text(says)
        if len(found.to_check) > _MOST_FAULTS:
            st.text(f"... and {len(found.to_check) - _MOST_FAULTS} more")


def _table_row(row: Row) -> dict[str, object]:
    floor = row.kept.summary.floor
    return {"tunnel": row.name, "tested": row.kept.summary.date or "no date",
            "group": "" if row.group is None else str(row.group + 1),
            **{name: words.span(getattr(floor, key)) if floor else "not estimated" for key, name in FIGURES.items()},
            "drawn toward the mean": words.span(row.shrunk) if row.shrunk else "",
            "among the lowest quarter": words.chance(row), "cans": row.kept.summary.cans}


def _page_of(found: Comparison) -> list[Row]:
    """The tunnels on the chosen page of the figure."""
    pages = -(-len(found.rows) // ROWS)
    if pages < 2:
        return found.rows
    page = st.number_input(f"Tunnels {ROWS} at a time, page (of {pages})", 1, pages, key="members_page")
    return found.rows[(page - 1) * ROWS:page * ROWS]


def _dated(row: Row) -> str:
    return f"{row.name}, {row.kept.summary.date or 'no date'}"


def open_one(found: Comparison) -> None:
    """The way to a tunnel's newest test."""
    with st.container(horizontal=True, vertical_alignment="bottom"):
        place = st.selectbox("A tunnel's newest test", range(len(found.rows)), key="members_open",
                             format_func=lambda at: _dated(found.rows[at]))
        asked = st.button("Open it", key="members_open_it", help="Opens a copy; what is saved stays as it is.")
        if asked and isinstance(place, int):  # a text that is none of the choices comes through as it was sent
            open_kept(found.rows[place].kept.test, hall.MAP)


def small_maps_of(found: Comparison) -> None:
    """The maps of the tunnels on this page, on one scale."""
    rows = [row for row in found.rows if row.kept.summary.floor]
    if not rows:
        return
    st.subheader("The floors beside each other")
    page = st.session_state.get("members_page", 1) if len(found.rows) > ROWS else 1
    shown = [row for row in found.rows[(page - 1) * ROWS:page * ROWS] if row.kept.summary.floor]
    if shown:
        hall.chart(small_maps(shown, hall.look(system=found.system), first=(page - 1) * ROWS + 1), "members maps",
                   f"Maps of {words.counted(len(shown), 'floor')} in percent of each mean, on one scale")
        st.text("Each in percent of its own mean, all on one scale; the thick line is the inlet end wall.")


def over_time(found: Comparison) -> None:
    """Before and after, and the trends."""
    look = hall.look(system=found.system)
    if found.pairs:
        st.subheader("Before and after")
        shown = found.pairs[:ROWS]
        hall.chart(change_rows(shown, found.figure, look), "members pairs",
                   f"Change of {FIGURES[found.figure]} for {words.counted(len(shown), 'tunnel')}")
        for pair in shown:
            st.text(" ".join(words.pair_words(pair, found.figure)))
    if found.trends:
        st.subheader("Over the years")
        shown = found.trends[:12]
        hall.chart(trend_lines(shown, found.figure, look), "members trends",
                   f"{FIGURES[found.figure]} over the years for {words.counted(len(shown), 'tunnel')}")
        for trend in shown:
            st.text(words.trend_words(trend, found.figure))


def what_goes_with(found: Comparison) -> None:
    """What goes with unevenness over all tunnels."""
    cautions = words.habits_caution(found)
    if not found.habits and not cautions:
        return
    st.subheader("What goes with unevenness")
    for says in (*(words.habit_words(habit, found.figure) for habit in found.habits), *cautions):
        st.text(says)


def how_others_stand() -> None:
    """For a member with an account: the others in bands, without names."""
    viewer = keeping.viewer()
    if viewer.sees_all:
        return
    st.subheader("How the other members' tunnels stand")
    found = bands(keeping.store(), viewer)
    if not found:
        st.text("Too few other members have figures yet: in a small group one could be recognised.")
    else:
        st.text(f"The newest test of each of their tunnels; every line is of {FEWEST_IN_BAND} members or more, so that "
                "nobody is recognised.")
    for band in found:
        st.text(f"DUlq {band.low:.0f} to {band.high:.0f} %: {words.counted(band.tunnels, 'tunnel')}")


def bring_in() -> None:
    """Records from this phone or computer into the store."""
    st.subheader("Bring records in")
    turn = st.session_state.get("members turn", 0)  # a field of another key is empty: nothing is taken in twice
    files = st.file_uploader("Records (.toml), or a ZIP archive of them", type=["toml", "zip"],
                             key=f"members_files_{turn}", accept_multiple_files=True,
                             max_upload_size=50, help="At most 50 MB a file. What is here is passed over.")
    if files and st.button("Take them in", type="primary", key="members_take"):
        bar = st.progress(0.0, "Reading …")
        with tempfile.TemporaryDirectory() as work:
            faults = unpack(((file.name, file) for file in files), Path(work))
            moved = take_in(keeping.store(), keeping.viewer(), work, lambda done, total: bar.progress(
                done / total, f"{done} of {total} files"), label=", ".join(file.name for file in files))
        bar.empty()
        moved.faults = faults + [line.split("/", 1)[-1] for line in moved.faults]
        moved.changed = [line.split("/", 1)[-1] for line in moved.changed]
        st.session_state.update({"members taken": (moved.taken(), moved.faults), "members turn": turn + 1})
        st.rerun()
    says, faults = st.session_state.get("members taken", ("", []))
    if says:
        st.text(says)
        _tell(faults)
    undo_part()


def _tell(faults: list[str]) -> None:
    if faults:
        say(f"{words.counted(len(faults), 'fault')}; what they are about was left out.", "error")
        more = [f"... and {len(faults) - _MOST_FAULTS} more"] if len(faults) > _MOST_FAULTS else []
        st.text("\n".join(faults[:_MOST_FAULTS] + more))  # as text: they repeat what stands in files


def hand_out(found: Comparison) -> None:
    """Files for the phone or computer in the person's hand."""
    st.subheader("Take it with you")
    store, viewer = keeping.store(), keeping.viewer()
    with st.container(horizontal=True):
        file_button("This comparison (.csv)", lambda: to_csv(members_rows(found)), "members.csv", "text/csv",
                    "members_csv")
        file_button("All records (.zip)", lambda: bundle(store, viewer), "records.zip", "application/zip",
                    "members_zip")
        asked = viewer.sees_all and st.button("A table for sharing, without names", key="members_share")
        if viewer.sees_all:
            drafts = draft_folders()  # everybody's, as the terminal takes them
            file_button("Archive of the whole store (.zip)", lambda: archive_bytes(store, drafts),
                        "evenfall-archive.zip", "application/zip", "members_archive")
    if viewer.sees_all:
        last = last_archived(store)
        st.text(f"Archived {clock(last)}." if last else "Never archived yet. An archive has every version of every "
                "test and all drafts; evenfall members --restore brings it back.")
        _share(asked)


def _share(asked: bool) -> None:
    """The table without names, until the store changes: what it is of must be what the person was told."""
    store, viewer = keeping.store(), keeping.viewer()
    if asked:
        try:
            st.session_state["members shared"] = (store.stamp(), *without_names(store, viewer))
        except StoreError as error:
            st.session_state.pop("members shared", None)
            say(str(error), "error")
    stamp, table, says = st.session_state.get("members shared", ("", "", ""))
    if stamp != store.stamp():
        return
    st.text(says)
    file_button("Without names (.csv)", table.encode, "without-names.csv", "text/csv", "members_shared")
