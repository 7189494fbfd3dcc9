"""Soils and soak cycles."""

import math

import pytest
from evenfall.reference.soils import SOILS, STANDS_MM, hours_to_ponding, soak, soil_of


def test_time_to_ponding_as_published():
    # Hung and Krinik 1995: f0 2, fc 0.5, b 2, P 1 give 0.77465 h; the figure does not depend on the unit of length.
    assert hours_to_ponding(1.0, 2.0, 0.5, 2.0) == pytest.approx(0.77465, abs=5e-6)
    assert hours_to_ponding(10.0, 20.0, 5.0, 2.0) == pytest.approx(0.77465, abs=5e-6)


def test_limits_of_ponding():
    assert hours_to_ponding(0.5, 2.0, 0.5, 2.0) == math.inf
    assert hours_to_ponding(2.0, 2.0, 0.5, 2.0) == 0.0
    times = [hours_to_ponding(rate, 2.0, 0.5, 2.0) for rate in (0.6, 0.9, 1.2, 1.6, 1.99)]
    assert times == sorted(times, reverse=True)


def test_soils_are_found_by_what_people_write():
    assert soil_of("Sandy loam, stony").name == "sandy loam"
    assert soil_of("loam").name == "loam" and soil_of("Clay Loam").name == "clay loam"
    assert soil_of("peat") is None and soil_of(None) is None
    for text in ("loamy sand", "Sand", "silt", "silt loam", "Silty clay loam", "sandy  clay", "fine sandy-loam",
                 "loams"):
        assert soil_of(text).name == " ".join(text.casefold().replace("-", " ").split()).rstrip("s")


@pytest.mark.parametrize("text", ["clay over sand", "sand, clay below", "loam (clay under it)", "heavy clay",
                                  "clay-loam mix", "not sand", "sandy", "loam and peat", ""])
def test_a_soil_is_never_taken_by_a_part_of_the_text(text):
    assert soil_of(text) is None


def test_a_soil_that_is_not_in_the_table_is_asked_about():
    from evenfall.record.doubts import doubts
    from evenfall.record.file import parse_record
    from evenfall.record.samples import sample_text

    record = parse_record(sample_text("commissioning").replace('soil = "loam"', 'soil = "clay over sand"'))
    says = [doubt.says for doubt in doubts(record) if doubt.path == ("crop", "soil")]
    assert len(says) == 1 and "received 'clay over sand'" in says[0] and "loamy sand" in says[0]
    assert not any(doubt.path == ("crop", "soil") for doubt in doubts(parse_record(sample_text("commissioning"))))


def test_the_table_as_published():
    # FAO, second hand: intake 20 to 30, 10 to 20, 5 to 10, 1 to 5 mm/h.
    takes = {soil.name: (soil.intake_low, soil.intake_high) for soil in SOILS}
    assert {name: takes[name] for name in ("sandy loam", "loam", "clay loam", "clay")} == {
        "sandy loam": (20, 30), "loam": (10, 20), "clay loam": (5, 10), "clay": (1, 5)}
    # UC Davis, in/ft.
    for name, low, high in (("loamy sand", 0.75, 1.25), ("sandy loam", 1.25, 1.75), ("loam", 1.5, 2.3),
                            ("clay loam", 1.75, 2.5), ("clay", 1.6, 2.5)):
        found = soil_of(name)
        assert (found.holds_low * 0.3048 / 25.4, found.holds_high * 0.3048 / 25.4) == pytest.approx((low, high))


def test_one_run_where_the_soil_keeps_up():
    made = soak(9.0, 90.0, soil_of("loam"))
    assert (made.runs, made.on_min, made.pause_min) == (1, 90.0, 0.0)


@pytest.mark.parametrize("rate", [12.0, 20.0, 30.0])
@pytest.mark.parametrize("minutes", [20.0, 75.0])
def test_runs_add_up_and_what_stands_goes_in(rate, minutes):
    soil = soil_of("loam")
    made = soak(rate, minutes, soil)
    assert made.runs * made.on_min == pytest.approx(minutes)
    if made.runs > 1:
        # A run and its pause are long enough for the wet soil to take in what fell.
        assert soil.intake_low * (made.on_min + made.pause_min) == pytest.approx(rate * made.on_min)
        # Beyond the intake of the dry soil no more stands than a bed holds.
        if rate >= soil.intake_high:
            assert (rate - soil.intake_low) * made.on_min / 60 <= STANDS_MM + 1e-9


def test_a_higher_rate_takes_more_runs():
    runs = [soak(rate, 60.0, soil_of("clay loam")).runs for rate in (5, 8, 12, 20, 40)]
    assert runs == sorted(runs) and runs[0] == 1 and runs[-1] > runs[1]
