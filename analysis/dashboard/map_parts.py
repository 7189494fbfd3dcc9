"""Parts of the map page."""

from __future__ import annotations

import streamlit as st

from ..cans.index_table import INDICES
from ..cans.surface import SAYS
from ..figures.curves import depth_share, head_profile, measured_and_fitted
from ..figures.depth import depth_map, drawn_mean, drawn_on_cans
from ..figures.look import Look
from ..record.file import record_text
from ..record.model import Record
from ..result import advice, meanings
from ..result.model import Result
from ..result.tables import cans_rows, figures_rows, to_csv, to_xlsx
from ..units.shown import show
from . import hall
from .frame import onward
from .handing import file_button
from .keep_parts import named, save_button
from .patch_parts import offer_patch
from .plain_words import in_words, with_labels


def mind(test: hall.Open, cautions: list[str], turn: str) -> None:
    """What makes the figures doubtful, for the top of the page."""
    if not cautions:
        return
    with st.container(border=True, key=f"mind_{turn}"):
        st.subheader("Mind, before you trust the figures")
        st.text("\n".join(f"• {with_labels(caution)}" for caution in cautions))
        if any("read it again" in caution for caution in cautions):
            onward("Look at the readings", hall.READINGS, test, main=False, place=f"_{turn}")


def figures(result: Result, units: str) -> None:
    """The figures at the cans, each with what it means and what to hold it against."""
    cans, catch = result.at_the_cans, result.catch
    main = [index for index in INDICES.values() if index.main]
    st.subheader("At the cans")
    with st.container(horizontal=True):
        for index in main:
            st.metric(index.name, index.shown(cans.values[index.key]), border=True)
        st.metric("Mean depth", show(catch.mean_mm, "depth", units, unit="mm"), border=True)
        st.metric("Application rate", show(catch.rate_mm_h, "rate", units, unit="mm/h"), border=True)
    st.text(" ".join(index.means(cans.values, units) for index in main))
    for says in meanings.rated(cans):
        st.text(says)
    with st.expander("More figures, and how they are made"):
        for index in INDICES.values():
            if index.own_row and not index.main:
                st.text(f"{index.name}: {index.shown(cans.values[index.key], 'none')} ({index.says}). "
                        + index.means(cans.values, units))
        lowest, highest = (show(value, "depth", units, unit="mm") for value in (catch.lowest_mm, catch.highest_mm))
        st.text(f"Driest can {lowest}, wettest {highest}. {catch.used} of {catch.cans} cans are in the figures; "
                f"{catch.set_aside} set aside, {catch.missing} without a reading.")
        st.text(meanings.low_quarter_rule(result))
        if cans.uncorrected:
            before = cans.uncorrected
            st.text(f"As read, before the evaporation correction: CU {before.cu:.0f} %, DUlq "
                    f"{before.du_low_quarter:.0f} %, mean {show(before.mean_mm, 'depth', units, unit='mm')}.")
        hall.chart(depth_share(result, hall.look(system=units)), "depth_share", "Depth against share of the ground")


def agreed(record: Record, result: Result) -> None:
    """The agreed target held against the test, where there is one."""
    said = advice.target_words(record, result)
    if said:
        st.subheader("What was agreed")
        st.text("\n".join(said))


def whole_floor(result: Result, units: str) -> None:
    """The estimate for all the ground beside the figures at the cans, and the heads that stand out."""
    st.subheader("Whole floor")
    whole = result.whole_floor
    if whole is None:
        needs = [key for closed in result.not_done if closed.part == "whole_floor" for key in closed.needs]
        st.text("The estimate for all the ground is closed"
                + (f"; look at {', '.join(map(in_words, needs))}." if needs else "."))
        return
    with st.container(horizontal=True):
        st.metric("CU of all the ground", meanings.interval(whole.cu), border=True)
        st.metric("DUlq of all the ground", meanings.interval(whole.du_low_quarter), border=True)
    st.text(f"Estimates with their 90 % intervals. {meanings.cans_and_floor(result)}")
    st.text("The yardsticks rate the figures at the cans, because they come from catch tests; this one is stricter.")
    suspects = [head for head in result.heads if head.suspect]
    if suspects:
        st.text("Heads that stand out from the trend of their line:")
        for head in suspects:
            st.text(f"• {meanings.suspect_means(head, units)}")
    elif result.heads:
        st.text(f"None of the {len(result.heads)} heads stands out from the trend of its line.")
    if result.profile is not None:
        with st.expander("How the heads' pattern was found"):
            mean = whole.mean_mm
            span = " to ".join(show(value, "depth", units, unit="mm") for value in (mean.low, mean.high))
            st.text(f"Mean depth on the ground {show(mean.value, 'depth', units, unit='mm')} ({span}). The driest "
                    f"connected 5 % of it gets 1 / {whole.scheduling_coefficient.value:.1f} of that.")
            look = hall.look(system=units)
            st.text("The rate of one head by the distance from it, with its 90 % band:")
            hall.chart(head_profile(result, look), "profile", "Radial profile of the heads")
            st.text("What each can caught against what the pattern says there:")
            hall.chart(measured_and_fitted(result, look), "fitted", "Caught against fitted")


_LAYERS = {"heads": "the heads' pattern", "cans": "the cans", "sure": "how unsure it is"}


def choose_look(result: Result, units: str) -> Look:
    """Let the person choose how the map is drawn."""
    st.subheader("The map")
    layer = "cans"
    if result.profile is not None:
        layer = st.segmented_control("Drawn from", list(_LAYERS), default="heads", format_func=_LAYERS.get,
                                     key="map_layer", required=True) or "heads"
    with st.container(horizontal=True, vertical_alignment="bottom"):
        shown = st.segmented_control("Show", ["part of the mean", "depth"], default="part of the mean",
                                     key="map_shows", required=True)
        values = st.toggle("Values of the cans", value=True, key="map_values")
        heads = st.toggle("Heads", value=True, key="map_heads")
    st.select_slider("Dry is ground under this part of the mean", [50, 55, 60, 65, 70, 75, 80, 85, 90, 95], value=75,
                     format_func=lambda percent: f"{percent} %", key="dry_widget", on_change=_keep_part)
    return hall.look(system=units, layer=layer, relative=shown != "depth", values=values, heads=heads,
                     part_of_mean=hall.dry_part())


def _keep_part() -> None:
    st.session_state["dry part"] = st.session_state["dry_widget"] / 100


def the_map(test: hall.Open, record: Record, result: Result, look: Look) -> None:
    """The map; a rectangle drawn on it can become a patch."""
    drawing = st.toggle("Draw a patch where the crop looks poor", key="drawing",
                        help="Drag a rectangle on the map, then add it below.")
    figure = depth_map(record, result, look)
    if drawing:
        figure.update_layout(dragmode="select", newselection={"line": {"color": "#7a0177", "width": 3}})
    chosen = st.plotly_chart(figure, key=f"map {drawing}", theme=None, on_select="rerun",
                             selection_mode=["points", "box"],
                             config={"displayModeBar": False, "doubleClick": False, "scrollZoom": False},
                             alt="Depth map with cans, heads, dry ground and patches")
    if drawing:
        offer_patch(test, chosen["selection"].get("box") or [], look)
    else:
        _one_can(result, chosen["selection"].get("points") or [], look)
    st.text(_hundred(result, look))
    surface = result.surface
    if drawn_on_cans(result, look):
        st.text(f"The map is drawn as {SAYS[surface.method]}: left out one by one, a can is missed by "
                f"{show(surface.error_mm, 'depth', look.system, unit='mm')} (root mean square). Veiled ground lies "
                "beyond the cans; there the map only repeats the nearest ground.")
    else:
        st.text("The map is drawn from the pattern of the heads that explains the cans best; 'how unsure it is' shows "
                "its standard deviation.")
    st.text("The dashed line is the edge of dry ground, triangles are heads (red ones stand out), × is a can without a "
            "reading, a value in brackets is set aside. A dot is a can whose value has no room here: tap it, or choose "
            "it above.")


def _hundred(result: Result, look: Look) -> str:
    """Which mean the percents on the map are of."""
    whose = _whose_mean(result, look)
    mean = show(drawn_mean(result, look), "depth", look.system, unit="mm")
    if look.relative:
        return f"100 % on this map, for the ground and for the cans, is the mean of {whose}: {mean}."
    return f"The dashed line is drawn at {100 * look.part_of_mean:.0f} % of the mean of {whose}, {mean}."


def _whose_mean(result: Result, look: Look) -> str:
    return "the cans" if drawn_on_cans(result, look) or result.whole_floor is None else "the whole floor"


def _one_can(result: Result, points: list[dict], look: Look) -> None:
    cans = result.cans
    names = [cans.name(number) for number in range(len(cans.x))]
    picked = next((point.get("customdata") for point in points if point.get("customdata") in names), None)
    name = st.selectbox("Look at one can", names, index=names.index(picked) if picked else None, key=f"can {picked}",
                        placeholder="choose, or tap it on the map")
    if name is None:
        return
    number = names.index(name)
    place = [show(value, "place", look.system) for value in (cans.x[number], cans.y[number])]
    depth = cans.depth_mm[number]
    share = 100 * depth / drawn_mean(result, look)
    part = f", {share:.0f} % of the mean of {_whose_mean(result, look)}" if depth == depth else ""
    why = f" ({cans.why[number]})" if cans.why[number] else ""
    st.text(f"{name}: {show(depth, 'depth', look.system, unit='mm')}{part}; {place[0]} across, {place[1]} along; "
            f"{cans.state[number]}{why}.")


def dry_ground(result: Result, units: str, part: float) -> None:
    """The dry spots in words."""
    st.subheader("Dry ground")
    if not result.dry_spots:
        st.text(f"No ground of {show(0.5, 'area', units)} or more gets under {100 * part:.0f} % of the mean.")
        return
    for number, spot in enumerate(result.dry_spots, 1):
        beyond = ""
        if spot.beyond_the_cans:
            beyond = " Most of it lies beyond the cans" + (": a guess." if spot.map == "surface" else
                                                           "; it follows from the heads' pattern.")
        kind = " (a strip)" if spot.kind == "strip" else ""
        whose = "the cans" if spot.map == "surface" else "the whole floor"
        st.text(f"dry {number}{kind}: {spot.where}. {show(spot.depth_mm, 'depth', units, unit='mm')}, "
                f"{100 * spot.of_mean:.0f} % of the mean of {whose}, {show(spot.area_m2, 'area', units)}.{beyond}")


def hand_out(test: hall.Open, record: Record, result: Result, units: str) -> None:
    """Save the record, and downloads."""
    st.subheader("Keep it")
    record = named(record, test.draft)  # a copy that is handed out can be followed up by its id
    save_button(test, record)
    st.text("It is saved on the machine that runs Evenfall and listed under 'Your tests'; the buttons below put a file "
            "on the phone or computer in your hand.")
    name = record.test.id
    with st.container(horizontal=True):
        file_button("Record (.toml)", lambda: record_text(record).encode(), f"{name}.toml", "application/toml",
                    "get_record")
        rows = figures_rows(record, result, units)
        file_button("Figures (.csv)", lambda: to_csv(rows), f"{name}-figures.csv", "text/csv", "get_csv")
        file_button("Figures and cans (.xlsx)",
                    lambda: to_xlsx({"figures": rows, "cans": cans_rows(record, result, units)}), f"{name}.xlsx",
                    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", "get_xlsx")
