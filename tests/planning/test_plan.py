"""The plan as a whole, in text and JSON, and as a command."""

import json
import re

import numpy as np
import pytest
from evenfall.cli.command import main
from evenfall.planning.as_json import to_plain
from evenfall.planning.layouts import layout_of, walk
from evenfall.planning.plan import CURVE, GOOD_ENOUGH, LAYOUTS, plan_of
from evenfall.planning.run_time import MOST_MINUTES, run_time
from evenfall.planning.text import plan_text
from evenfall.record.file import parse_record
from evenfall.record.running import running_of
from evenfall.record.samples import sample_text
from evenfall.record.site import site_of

from .records import BARE, HEADS, SUPPLY, TWO, equal, read

FEW = 6  # tunnels, where the figures themselves are not looked at


@pytest.fixture(scope="module")
def two():
    return plan_of(site_of(read(TWO + SUPPLY)), tunnels=24)


def test_the_proposal_is_sound_and_the_best_of_three(two):
    best = two.proposed
    assert [one.layout.name for one in two.layouts] == list(LAYOUTS)
    assert best.layout.covers and not best.layout.shares_period
    assert best.expected.error <= min(one.expected.error for one in two.layouts) + 0.5
    assert best.expected.error < two.layouts[0].expected.error  # a plain grid is the worst here
    assert two.proposed.expected.cans in range(CURVE[0] - 2, CURVE[-1] + 1)
    assert best.expected.error <= GOOD_ENOUGH
    assert two.tunnels == 24 and all(len(one.expected.errors) == 24 for one in (*two.layouts, *two.curve))
    assert [one.expected.cans for one in two.curve] == sorted(one.expected.cans for one in two.curve)
    assert two.curve[-1].expected.error < two.curve[0].expected.error + 0.2


def test_as_many_cans_as_there_are():
    plan = plan_of(site_of(read(TWO)), cans=40, tunnels=FEW)
    assert all(32 <= one.expected.cans <= 40 for one in plan.layouts)
    with pytest.raises(ValueError, match="received 5 cans, expected 8 to 400, choose another number"):
        plan_of(site_of(read(TWO)), cans=5)


def test_the_record_s_own_cans_are_judged_too():
    plan = plan_of(site_of(parse_record(sample_text("bare"))), cans=24, tunnels=FEW)
    assert plan.layouts[-1].layout.name == "as in the record" and plan.layouts[-1].expected.cans == 24
    assert plan.layouts[-1].layout.cans == {"across": ["0.7 m", "2 m", "3.3 m", "4.6 m"],
                                            "along": ["1 m", "3 m", "5 m", "7 m", "9 m", "11 m"]}
    assert plan.best < 3 and plan.proposed_lines and len(plan.tested) == plan.lines.even


def test_readings_play_no_part():
    text = sample_text("bare")
    wetter = re.sub(r"\[(\d+), (\d+), (\d+), (\d+)\]", "[30, 30, 30, 30]", text)
    assert wetter != text
    one, other = (to_plain(plan_of(site_of(parse_record(each)), cans=24, tunnels=FEW)) for each in (text, wetter))
    assert one == other


def test_the_run_brings_enough_into_the_mean_can(two):
    run = two.run
    assert run.minutes % 5 == 0 and run.minutes <= MOST_MINUTES and run.enough
    assert 25 <= run.catch_low <= run.catch <= run.catch_high
    # 64 heads of about 40 L/h over 9.1 x 29 m are about 9.7 mm/h over the floor; cans stand off the dry ends.
    floor = sum(two.lines.today.water.flows.values()) / (9.1 * 29)
    assert run.rate == pytest.approx(floor, rel=0.15)
    assert run.catch == pytest.approx(run.rate / 60 * run.minutes * run.opening_cm2 / 10)
    assert run.opening_assumed and any("from memory" in text and "opening" in text for text in two.assumed)


def test_a_weak_rain_is_stopped_at_an_hour_and_heavy_rain_may_stand():
    record = read(TWO + '[crop]\nsoil = "Clay, heavy"\n[cans]\nopening = "60 mm"\n')
    heads = np.array([[x, y] for x in (2.3, 6.8) for y in np.arange(0.5, 29, 0.9)])
    places = layout_of("grid", site_of(record).ground, 24, [], "metric").places
    weak = run_time(site_of(record), heads, np.full(len(heads), 10.0), 2.45, places, equal(places),
                    running_of((), 3600.0, False), np.zeros(len(heads), int))
    assert weak.minutes == MOST_MINUTES and not weak.enough and weak.catch_low < 25 and not weak.opening_assumed
    assert weak.opening_cm2 == pytest.approx(np.pi * 9) and weak.intake == 1.0 and weak.wettest > weak.intake
    text = plan_text(site_of(record), plan_of(site_of(record), cans=24, tunnels=FEW))
    assert "Water may stand" in text


def test_gauges_follow_the_water(two):
    places = [(gauge.at, gauge.line, gauge.head) for gauge in two.gauges]
    assert places[:5] == [(at, None, None) for at in ("supply", "filter inlet", "filter outlet", "regulator inlet",
                                                      "regulator outlet")]
    assert places[5:] == [("line", "left", 1), ("line", "left", 32), ("line", "right", 1), ("line", "right", 32)]
    assert all(gauge.low <= gauge.kpa <= gauge.high for gauge in two.gauges)


@pytest.mark.parametrize("text", [BARE, HEADS, TWO + SUPPLY])
@pytest.mark.parametrize("units", ["metric", "US"])
def test_the_text_fits_eighty_columns(text, units):
    record = read(text)
    shown = plan_text(site_of(record), plan_of(site_of(record), cans=24, units=units, tunnels=FEW), units)
    assert max(map(len, shown.splitlines())) <= 80
    assert not re.search(r"\bnan\b|\bNone\b|\x1b|\{|\}", shown)
    for title in ("Lines", "Cans", "How many cans", "The run", "Before the run"):
        assert f"\n{title}\n" in shown
    assert "not a measured figure" in shown and "interval" in shown
    if units == "US":
        assert not re.search(r"\d (m|mm|kPa|mL|L/h)\b", shown)


def test_the_json_is_complete(two):
    plain = json.loads(json.dumps(to_plain(two), allow_nan=False))
    assert set(plain) == {"plan", "lines", "tested_lines", "lines_are_proposed", "cans", "run", "gauges",
                          "control_cans", "checks", "assumed", "needs"}
    assert [stop["number"] for stop in plain["cans"]["walk"]] == list(range(1, len(plain["cans"]["walk"]) + 1))
    stops = walk(plain["cans"]["layout"])
    assert [(stop["x_m"], stop["y_m"]) for stop in plain["cans"]["walk"]] == [(stop.x, stop.y) for stop in stops]
    today = plain["lines"]["today"]
    assert today["runs"] == "together" and len(today["last_heads"]) == 2
    for option in plain["lines"]["options"]:
        figure = option["du_low_quarter"]
        assert figure["low"] <= figure["value"] <= figure["high"] and len(figure["by_family"]) == 8


def test_every_key_of_the_json_is_described():
    from evenfall.record.samples import folder

    text = (folder() / "README.md").read_text("utf-8").split("## A plan before the test")[1]
    told = set(re.findall(r"`([a-z_0-9]+)`", text))

    def keys(value):
        if isinstance(value, dict):
            for key, inner in value.items():
                if key not in ("by_family", "layout"):
                    yield key
                    yield from keys(inner)
        elif isinstance(value, list):
            for item in value:
                yield from keys(item)

    plan = to_plain(plan_of(site_of(read(TWO + SUPPLY)), cans=24, tunnels=FEW))
    assert set(keys(plan)) - told == set()


def test_the_command(tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("evenfall.planning.plan.plan_of.__kwdefaults__", {**plan_of.__kwdefaults__, "tunnels": FEW})
    file = tmp_path / "new.toml"
    file.write_text(TWO + SUPPLY, "utf-8")
    assert main(["plan", str(file), "--cans", "30"]) == 0
    shown = capsys.readouterr().out
    assert "Proposed: 30 cans" in shown and "The supply runs all lines together." in shown
    assert main(["plan", str(file), "--json", "--cans", "30"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert plain["plan"] == 1 and plain["cans"]["simulated"] == FEW
    assert main(["assess", str(file)]) == 2 and "received nothing" in capsys.readouterr().err


@pytest.mark.parametrize("text, more, says", [
    (TWO, ["--cans", "5"], "received 5 cans, expected 8 to 400"),
    (TWO.replace("9.1 m", "9.1"), [], r"new.toml:5: floor.width: received '9.1' without a unit"),
])
def test_what_stops_the_command(text, more, says, tmp_path, capsys):
    file = tmp_path / "new.toml"
    file.write_text(text, "utf-8")
    assert main(["plan", str(file), *more]) == 2
    out, err = capsys.readouterr()
    assert out == "" and re.search(says, err) and len(err.splitlines()) == 1
