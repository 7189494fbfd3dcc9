"""Which lines a plan advises: by its own table, with the ends, as they are run, and with what is not known said."""

import contextlib

import pytest
from evenfall.cli.command import main
from evenfall.dashboard import plan_parts
from evenfall.planning.as_json import to_plain
from evenfall.planning.lines import CLOSE, line_plan
from evenfall.planning.plan import plan_of
from evenfall.planning.words import counts_words, line_rows, supply_words
from evenfall.record.site import site_of
from streamlit.testing.v1 import AppTest

from .records import BARE, HEADS, SUPPLY, TWO, line, read


def test_no_more_lines_are_advised_than_its_own_table_gains_from():
    for text in (HEADS, HEADS.replace("4.9 m", "6 m"), HEADS.replace("4.9 m", "3.9 m"), BARE):
        plan = line_plan(site_of(read(text)))
        best = max(option.du_low_quarter.value for option in plan.options)
        fewer = [option for option in plan.options if len(option.x) < len(plan.advised.x)]
        assert plan.advised.du_low_quarter.value >= best - CLOSE
        assert all(option.du_low_quarter.value < best - CLOSE for option in fewer)


def test_bare_ends_are_told_with_what_they_bring():
    short = read(HEADS + line("left", "2.275 m", count=20) + line("right", "6.825 m", count=20))
    plan = plan_of(site_of(short), cans=24, tunnels=2)
    ends = plan.lines.ends
    assert [one.x for one in ends.lines] == [one.x for one in plan.lines.today.lines]
    gain = ends.du_low_quarter.value - plan.lines.today.du_low_quarter.value
    said = " ".join(counts_words(plan, "metric"))
    assert gain > CLOSE and "The ends are bare" in said and f"DUlq {ends.du_low_quarter.value:.0f} (" in said
    assert line_plan(site_of(read(TWO))).ends is None  # its heads begin half a spacing from the walls


def test_the_flow_is_that_of_the_lines_that_run_at_once():
    weak = plan_of(site_of(read(TWO + SUPPLY.replace('time = "24 s"', 'time = "58 s"'))), cans=24, tunnels=2)
    today = weak.lines.today
    assert today.water.runs == "in turn"
    one = max(today.water.flows.values())
    row = line_rows(weak, "metric")[0]
    assert float(row["Flow at once"].split()[0].replace("\N{NO-BREAK SPACE}", "")) == pytest.approx(one, rel=0.01)
    assert "one line at a time, which takes 2 valves" in " ".join(supply_words(weak, "metric"))


def test_without_a_diameter_the_range_is_over_what_heads_wet_and_one_is_to_be_measured():
    known, unknown = (line_plan(site_of(read(text))) for text in (
        HEADS, "\n".join(row for row in HEADS.splitlines() if not row.startswith("wetted_diameter")) + "\n"))
    assert any("measure how far one head of yours wets" in text for text in unknown.heads.assumed)
    for option in unknown.options:
        assert option.du_low_quarter.high > option.du_low_quarter.low + 10
    assert not any("measure how far" in text for text in known.heads.assumed)


def test_page_and_terminal_tell_the_same_errors(monkeypatch, tmp_path):
    """Neither asks for a number of simulated tunnels of its own."""
    asked = []

    def watched(site, **more):
        asked.append(more)
        raise ValueError("enough")

    monkeypatch.setattr("evenfall.planning.plan.plan_of", watched)
    monkeypatch.setattr(plan_parts, "plan_of", watched)
    path = tmp_path / "plan.toml"
    path.write_text(TWO, "utf-8")
    with contextlib.suppress(SystemExit):
        main(["plan", str(path), "--cans", "24"])
    AppTest.from_function(_page, args=(TWO,)).run()
    assert len(asked) == 2 and all("tunnels" not in more and "seed" not in more for more in asked)


def _page(text):
    from evenfall.dashboard import plan_parts
    from evenfall.record.file import parse_record

    plan_parts.the_plan({}, parse_record(text, planning=True), 24, "metric")


def test_the_json_says_what_is_advised_and_what_the_ends_bring():
    short = read(HEADS + line("left", "2.275 m", count=20) + line("right", "6.825 m", count=20))
    plan = plan_of(site_of(short), cans=24, tunnels=2)
    lines = to_plain(plan)["lines"]
    assert lines["advised"] == len(plan.lines.advised.x)
    assert lines["ends"]["du_low_quarter"]["value"] == plan.lines.ends.du_low_quarter.value
