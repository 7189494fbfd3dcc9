"""Quantities: factors against published definitions, texts in and out, and every refusal."""

import math
import re
from fractions import Fraction

import pytest
from evenfall.units.quantity import (
    SI_UNIT,
    TABLE,
    QuantityError,
    clip_text,
    dimension_of,
    find_unit,
    from_si,
    is_clock,
    parse,
    parse_number,
    to_si,
    units_of,
)
from evenfall.units.shown import (
    SHOWN,
    in_system,
    place_text,
    show,
    show_rough,
    shown_unit,
    shown_value,
    system_of,
)
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import constants

# NIST Special Publication 811 (2008), appendix B, and the definitions it states as exact:
# foot 0.3048 m, inch 25.4 mm, US gallon 231 in3, US fluid ounce 1/128 gallon, mile 1609.344 m,
# avoirdupois pound 0.453 592 37 kg, standard gravity 9.806 65 m/s2, litre 1 dm3, bar 100 kPa;
# conventional metre of water 9806.65 Pa.
INCH, FOOT, MILE = Fraction("0.0254"), Fraction("0.3048"), Fraction("1609.344")
GALLON, LITRE = 231 * INCH**3, Fraction(1, 1000)
POUND_FORCE = Fraction("0.45359237") * Fraction("9.80665")
EXACT = {
    "length": {"m": 1, "cm": Fraction(1, 100), "mm": LITRE, "ft": FOOT, "in": INCH},
    "area": {"m2": 1, "cm2": Fraction(1, 10**4), "ft2": FOOT**2, "in2": INCH**2},
    "volume": {"mL": LITRE / 1000, "cm3": Fraction(1, 10**6), "L": LITRE, "m3": 1, "US gal": GALLON, "gal": GALLON,
               "fl oz": GALLON / 128},
    "mass": {"g": Fraction(1, 1000), "kg": 1},
    "pressure": {"kPa": 1000, "bar": 10**5, "psi": POUND_FORCE / INCH**2, "m of water": Fraction("9806.65")},
    "flow": {"L/h": LITRE / 3600, "L/min": LITRE / 60, "L/s": LITRE, "m3/h": Fraction(1, 3600), "gpm": GALLON / 60,
             "gph": GALLON / 3600, "lph": LITRE / 3600},
    "time": {"s": 1, "min": 60, "h": 3600},
    "speed": {"m/s": 1, "km/h": Fraction(1000, 3600), "mph": MILE / 3600, "ft/s": 12 * INCH},
    "rate": {"mm/h": LITRE / 3600, "in/h": INCH / 3600},
    "temperature": {"C": 1, "F": Fraction(5, 9)},
    "angle": {"deg": Fraction(constants.degree)},
}
EVERY_UNIT = [(dimension, unit) for dimension, units in TABLE.items() for unit in units]


def test_every_dimension_has_its_units_and_its_si_unit():
    assert {name: set(units) for name, units in TABLE.items()} == {name: set(units) for name, units in EXACT.items()}
    assert set(SI_UNIT) == set(TABLE)


@pytest.mark.parametrize(("dimension", "unit"), EVERY_UNIT)
def test_factor_is_the_exact_definition(dimension, unit):
    assert TABLE[dimension][unit][0] == pytest.approx(float(EXACT[dimension][unit]), rel=1e-15)


@pytest.mark.parametrize(("text", "dimension", "printed", "relative"), [
    # NIST SP 811 (2008), table B.8, factors as printed; bold (exact) there to the last digit.
    ("1 ft", "length", 3.048e-1, 1e-15),
    ("1 in", "length", 2.54e-2, 1e-15),
    ("1 ft2", "area", 9.290304e-2, 1e-15),
    ("1 in2", "area", 6.4516e-4, 1e-15),
    ("1 US gal", "volume", 3.785412e-3, 2e-7),
    ("1 fl oz", "volume", 2.957353e-5, 2e-7),
    ("1 psi", "pressure", 6.894757e3, 1e-7),
    ("1 bar", "pressure", 1e5, 1e-15),
    ("1 m of water", "pressure", 9.80665e3, 1e-15),
    ("1 gpm", "flow", 6.309020e-5, 1e-7),
    ("1 mph", "speed", 4.4704e-1, 1e-15),
    ("1 in/h", "rate", 7.055556e-6, 1e-7),
    ("32 F", "temperature", 0.0, 0),
    ("212 F", "temperature", 100.0, 1e-12),
])
def test_published_factors(text, dimension, printed, relative):
    assert parse(text, dimension).si == pytest.approx(printed, rel=relative, abs=1e-12 if printed == 0 else 0)


def test_factors_agree_with_the_library():
    assert TABLE["length"]["ft"][0] == constants.foot
    assert TABLE["pressure"]["psi"][0] == constants.psi
    assert TABLE["pressure"]["m of water"][0] == 1000 * constants.g
    assert TABLE["flow"]["gpm"][0] == constants.gallon_US / constants.minute
    assert TABLE["speed"]["mph"][0] == constants.mph
    assert TABLE["temperature"]["F"][0] == constants.degree_Fahrenheit
    assert to_si(50.0, "F", "temperature") == pytest.approx(
        constants.convert_temperature(50.0, "F", "C"), abs=1e-12)


@pytest.mark.parametrize(("text", "value"), [
    ("12", 12), ("2.5", 2.5), ("2,4", 2.4), (".5", 0.5), (",5", 0.5), ("12.", 12), ("1/2", 0.5), ("1 1/4", 1.25),
    ("-1 1/4", -1.25), ("+3", 3), ("0,600", 0.6), ("1,20", 1.2), ("1e3", 1000), (" 7 ", 7),
])
def test_numbers(text, value):
    assert parse_number(text) == value


@pytest.mark.parametrize(("text", "si"), [
    ("2 ft 6 in", 0.762), ("2ft6in", 0.762), ("0 ft 11 1/2 in", 0.2921), ("1 1/4 in", 0.03175),
    ("2,4 m", 2.4), ("25 FT", 7.62), ("3 Ft. ", 0.9144), ("1\u00a0m", 1.0),
    ("24'", 7.3152), ("24 ′", 7.3152), ("24’", 7.3152), ("5 1/2'", 1.6764), ("8' 6\"", 2.5908), ("8'6\"", 2.5908),
    ("8’ 6 1/2”", 2.6035), ("8'-6\"", 2.5908), ("8 ft 6 in", 2.5908), ("8 ft. 6 in.", 2.5908),
    ("8 feet 6 inches", 2.5908),
    ("60 feet", 18.288), ("1 foot", 0.3048), ("6 inches", 0.1524), ("6\"", 0.1524), ("6''", 0.1524), ("1 inch", 0.0254),
    ("2 metres", 2.0), ("2.5 Meters", 2.5), ("84 millimetres", 0.084), ("9 centimeters", 0.09),
])
def test_lengths(text, si):
    quantity = parse(text, "length")
    assert quantity.si == pytest.approx(si, rel=2e-15) and quantity.text == text


@pytest.mark.parametrize(("text", "minutes"), [
    ("45 minutes", 45), ("45 mins", 45), ("1 minute", 1), ("1 hour", 60), ("1.5 hours", 90), ("2 hr", 120),
    ("90 seconds", 1.5), ("90 sec", 1.5), ("2 hours 30 min", 150), ("2h30min", 150), ("1 h 5 minutes", 65),
    ("1 min 30 s", 1.5), ("0:45", 45), ("1:05", 65), (" 1:30 h", 90), ("0:00", 0),
])
def test_times_as_people_write_them(text, minutes):
    quantity = parse(text, "time")
    assert quantity.to("min") == pytest.approx(minutes, rel=2e-15) and quantity.text == text


def test_a_colon_stands_in_times_alone():
    assert is_clock("0:45") and is_clock("12:00 h") and not is_clock("45 min") and not is_clock("0:5")
    for text, dimension in (("0:45", "length"), ("0:45:10", "time"), ("0:5", "time"), ("1:30 min", "time")):
        with pytest.raises(QuantityError):
            parse(text, dimension)


@pytest.mark.parametrize(("texts", "system"), [
    (("24 ft",), "US"), (("24'",), "US"), (("8' 6\"",), "US"), (("24 feet",), "US"), (("90 inches",), "US"),
    (("7.6 m",), "metric"), (("760 cm",), "metric"), (("24", "60'"), "US"), (("24", None, "9 m"), "metric"),
    (("24",), None), ((), None),
])
def test_the_system_of_a_length(texts, system):
    assert system_of(*texts) == system


@pytest.mark.parametrize(("si", "metric", "us"), [(9.144, "9.14 m", "30 ft"), (23.77, "23.77 m", "78 ft"),
                                                  (-0.2, "-0.20 m", "-0.7 ft"), (5000.0, "5000.00 m", "16404.2 ft")])
def test_places_close_enough_for_a_tape(si, metric, us):
    assert (place_text(si, "metric"), place_text(si, "US")) == (metric, us)


@pytest.mark.parametrize(("text", "dimension", "us"), [
    ("200 m", "length", "656 ft"), ("20 cm", "length", "7.87 in"), ("0 m", "length", "0 ft"),
    ("1000 m", "length", "3280 ft"), ("1600 kPa", "pressure", "232 psi"), ("2000 L/h", "flow", "8.81 gpm"),
    ("1 L/h", "flow", "0.264 gph"), ("-5 C", "temperature", "23 F"), ("72 h", "time", "72 h"), ("0 g", "mass", "0 g"),
])
def test_limits_in_the_system_of_the_record(text, dimension, us):
    assert in_system(text, dimension, "US") == us
    assert in_system(text, dimension, "metric") == text


@pytest.mark.parametrize(("text", "dimension", "unit"), [
    ("ML", "volume", None), ("Ml", "volume", None), ("Mm", "length", None), ("Mm/h", "rate", None),
    ("ml", "volume", "mL"), ("l", "volume", "L"), ("MM", "length", "mm"), ("kpa", "pressure", "kPa"),
    ("KPA", "pressure", "kPa"), ("PSI", "pressure", "psi"), ("l/H", "flow", "L/h"), ("M OF WATER", "pressure",
    "m of water"), ("us GAL", "volume", "US gal"), ("US FL OZ", "volume", "fl oz"), ("Fl Oz", "volume", "fl oz"),
    ("°c", "temperature", "C"), ("Degrees F", "temperature", "F"), ("M³/h", "flow", "m3/h"), ("in.", "length", "in"),
    ("furlong", "length", None), ("", "length", None),
])
def test_capitals_where_they_cannot_mislead(text, dimension, unit):
    assert find_unit(text, dimension) == unit


def test_every_spelling_belongs_to_one_dimension():
    for dimension, unit in EVERY_UNIT:
        assert dimension_of(unit) == dimension
        for spelling in (unit.upper(), unit.lower(), unit.title()):
            if find_unit(spelling, dimension):
                assert [other for other in TABLE if find_unit(spelling, other)] == [dimension]


@st.composite
def numbers(draw):
    """A number as people write it, and its value."""
    form = draw(st.sampled_from(["point", "comma", "whole", "fraction", "mixed"]))
    whole, bottom = draw(st.integers(0, 9999)), draw(st.integers(2, 64))
    top = draw(st.integers(1, bottom - 1))
    if form == "whole":
        return str(whole), Fraction(whole)
    if form == "fraction":
        return f"{top}/{bottom}", Fraction(top, bottom)
    if form == "mixed":
        return f"{whole} {top}/{bottom}", whole + Fraction(top, bottom)
    decimals = draw(st.text("0123456789", min_size=1, max_size=6).filter(lambda text: len(text) != 3))
    return f"{whole}{'.' if form == 'point' else ','}{decimals}", Fraction(f"{whole}.{decimals}")


@settings(max_examples=60, deadline=None)
@given(numbers(), st.sampled_from(["", " ", "  "]), st.booleans())
def test_text_to_si_and_back_in_every_unit(number, gap, capitals):
    text, value = number
    for dimension, unit in EVERY_UNIT:
        spelling = unit.upper() if capitals and find_unit(unit.upper(), dimension) else unit
        entered = f"{text}{gap}{spelling}"
        quantity = parse(entered, dimension)
        offset = Fraction(-160, 9) if unit == "F" else 0
        assert quantity.text == entered
        assert quantity.si == pytest.approx(float(value * EXACT[dimension][unit] + offset), rel=1e-12, abs=1e-12)
        again = parse(f"{quantity.to(unit):.17g} {unit}", dimension)
        assert again.si == pytest.approx(quantity.si, rel=1e-12, abs=1e-12)
        assert to_si(from_si(quantity.si, unit, dimension), unit, dimension) == pytest.approx(
            quantity.si, rel=1e-12, abs=1e-12)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 500), st.integers(0, 11), st.integers(1, 15))
def test_feet_and_inches(feet, inches, sixteenths):
    expected = float(feet * FOOT + (inches + Fraction(sixteenths, 16)) * INCH)
    assert parse(f"{feet} ft {inches} {sixteenths}/16 in", "length").si == pytest.approx(expected, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=100), st.sampled_from(sorted(TABLE)))
def test_any_text_is_a_quantity_or_one_sentence(text, dimension):
    try:
        assert math.isfinite(parse(text, dimension).si)
    except QuantityError as error:
        assert "\n" not in str(error) and str(error).isprintable()
        assert error.received.startswith("received ")


LENGTH = "expected a length in m, cm, mm, ft or in"
VOLUME = "expected a volume in mL, cm3, L, m3, US gal or fl oz"
REFUSED = [
    (3, "length", f'received the bare number 3, {LENGTH}, add the unit in quotes, such as "3 m"'),
    (2.5, "area", 'received the bare number 2.5, expected an area in m2, cm2, ft2 or in2, add the unit in quotes, '
                  'such as "2.5 m2"'),
    ("3", "length", f'received \'3\' without a unit, {LENGTH}, add the unit, such as "3 m"'),
    ("3 furlong", "length", f"received '3 furlong', whose unit 'furlong' is unknown here, {LENGTH}, "
                            "use one of these units"),
    ("70 F", "length", f"received '70 F', which is a temperature, {LENGTH}, use one of these units"),
    ("5 m2", "length", f"received '5 m2', which is an area, {LENGTH}, use one of these units"),
    ("3 m", "time", "received '3 m', which is a length, expected a time in s, min or h, use one of these units"),
    ("-1 m", "length", f"received '-1 m', {LENGTH}, not below zero, correct it"),
    ("-1/2 ft", "length", f"received '-1/2 ft', {LENGTH}, not below zero, correct it"),
    ("1e999 m", "length", f"received '1e999 m', {LENGTH} of finite size, correct it"),
    ("1e13 m", "length", f"received '1e13 m', {LENGTH} of finite size, correct it"),
    ("inf m", "length", f'received \'inf m\', {LENGTH}, write one number and one unit, such as "2.5 m"'),
    ("nan m", "length", f'received \'nan m\', {LENGTH}, write one number and one unit, such as "2.5 m"'),
    ("1,200 L", "volume", "received '1,200', which may mean thousands or a decimal comma, write 1200 or 1.200"),
    ("1,200.5 L", "volume", "received '1,200.5', expected a number without commas for thousands, write 1200.5"),
    ("1,200,000 mL", "volume", "received '1,200,000', expected a number without commas for thousands, write 1200000"),
    ("1 ML", "volume", f"received '1 ML', whose unit 'ML' is unknown here, {VOLUME}, use one of these units"),
    ("2 ft 13 in", "length", "received '2 ft 13 in', expected fewer than 12 in after the feet, correct it"),
    ("2 ft 12 in", "length", "received '2 ft 12 in', expected fewer than 12 in after the feet, correct it"),
    ("8' 12\"", "length", "received '8' 12\"', expected fewer than 12 in after the feet, correct it"),
    ("2 h 60 min", "time", "received '2 h 60 min', expected fewer than 60 min after the hours, correct it"),
    ("0:60", "time", "received '0:60', expected hours and minutes such as 0:45 or 1:30, write fewer than 60 minutes"),
    ("45", "time", "received '45' without a unit, expected a time in s, min or h, add the unit, such as \"45 min\""),
    ("3/0 m", "length", "received '3/0', expected a fraction with a bottom other than 0, correct it"),
    ("2 ft 1/0 in", "length", "received '1/0', expected a fraction with a bottom other than 0, correct it"),
    ("", "length", f'received \'\', {LENGTH}, write one number and one unit, such as "2.5 m"'),
    ("m", "length", f'received \'m\', {LENGTH}, write one number and one unit, such as "2.5 m"'),
    (None, "length", f"received 'None', {LENGTH}, write it as text in quotes"),
    (True, "length", f"received 'True', {LENGTH}, write it as text in quotes"),
    (["3 m"], "length", f"received '['3 m']', {LENGTH}, write it as text in quotes"),
    ("3\nm", "length", f"received '3 m', {LENGTH}, write it on one line of at most 80 characters"),
    ("9" * 81 + " m", "length", f"received '{'9' * 39}…', {LENGTH}, write it on one line of at most 80 characters"),
    ("2 m 5", "length", f"received '2 m 5', whose unit 'm 5' is unknown here, {LENGTH}, use one of these units"),
    ("1/2e3 m", "length", "received '1/2e3 m', whose unit 'e3 m' is unknown here, "
                          f"{LENGTH}, use one of these units"),
]


@pytest.mark.parametrize(("text", "dimension", "says"), REFUSED, ids=[repr(item[0])[:20] for item in REFUSED])
def test_refusals_say_what_came_what_was_wanted_and_what_to_do(text, dimension, says):
    with pytest.raises(QuantityError, match=re.escape(says) + "$"):
        parse(text, dimension)


@pytest.mark.parametrize("text", ["", "twelve", "1 2", "1/2/3", "--1", "1..2", "1,2,3", "0x10", "9" * 81, "½"])
def test_not_a_number(text):
    with pytest.raises(QuantityError, match="expected a number such as 12, 2.5, 2,4 or 1 1/4, correct it"):
        parse_number(text)


def test_below_zero_only_where_it_means_something():
    assert parse("-1/2 m", "length", signed=True).si == -0.5
    assert parse("-5 C", "temperature").si == -5
    assert parse("0 m", "length").si == 0


def test_a_huge_number_does_not_break_the_sentence():
    assert clip_text(int("f" * 5000, 16)).startswith("'0xffff")
    assert len(clip_text("x" * 1000)) == 42
    assert clip_text("a\x1b[31m\nb") == "'a?[31m b'"


def test_units_are_listed_once():
    assert units_of("flow") == "L/h, L/min, L/s, m3/h, gpm or gph"
    assert units_of("temperature") == "C or F"


@pytest.mark.parametrize(("si", "kind", "metric", "us"), [
    (7.62, "place", "7.6 m", "25 ft"),
    (0.0127, "depth", "12.7 mm", "0.50 in"),
    (2.1336, "height", "2.1 m", "7.0 ft"),
    (0.0209, "bore", "20.9 mm", "0.82 in"),
    (9.290304, "area", "9.3 m²", "100 ft²"),
    (0.018927, "volume", "19 L", "5 US gal"),
    (206842.7, "pressure", "207 kPa", "30 psi"),
    (1.1356e-5, "flow", "41 L/h", "0.18 gpm"),
    (25.4e-3 / 3600, "rate", "25.4 mm/h", "1.00 in/h"),
    (1800.0, "time", "30 min", "30 min"),
    (0.44704, "speed", "0.4 m/s", "1.0 mph"),
    (20.0, "temperature", "20 °C", "68 °F"),
])
def test_show_in_both_systems(si, kind, metric, us):
    assert show(si, kind, "metric") == metric
    assert show(si, kind, "US") == us
    assert show(si, kind, "US", with_unit=False) == us.split(" ")[0]


@settings(max_examples=60, deadline=None)
@given(st.floats(-1e-3, 1e-3), st.sampled_from(sorted(SHOWN["metric"])), st.sampled_from(["metric", "US"]))
def test_never_minus_zero(si, kind, system):
    text = show(si, kind, system, with_unit=False)
    assert not re.fullmatch(r"-0(\.0*)?", text)
    assert float(text) == pytest.approx(shown_value(si, kind, system), abs=0.51 * 10.0 ** -SHOWN[system][kind][2])


def test_what_is_unknown_is_a_dash():
    for system, kinds in SHOWN.items():
        for kind in kinds:
            assert show(None, kind, system) == show(float("nan"), kind, system) == show(math.inf, kind, system) == "–"
            assert shown_unit(kind, system)
    assert set(SHOWN["metric"]) == set(SHOWN["US"])


@pytest.mark.parametrize("value, kind, unit, metric, us", [
    (250.0, "pressure", "kPa", "250 kPa", "36 psi"), (12.34, "depth", "mm", "12.3 mm", "0.49 in"),
    (25.4, "rate", "mm/h", "25.4 mm/h", "1.00 in/h"), (227.125, "flow", "L/h", "227 L/h", "1.00 gpm"),
    (3.0, "speed", "mph", "1.3 m/s", "3.0 mph"), (2.0, "place", None, "2.0 m", "7 ft"),
    (None, "flow", "L/h", "–", "–"),
])
def test_a_value_is_shown_from_the_unit_that_it_is_in(value, kind, unit, metric, us):
    assert show(value, kind, "metric", unit=unit) == metric and show(value, kind, "US", unit=unit) == us


def test_a_value_in_the_unit_that_is_shown_is_not_turned_round():
    assert shown_value(0.1 + 0.2, "depth", "metric", unit="mm") == 0.1 + 0.2
    assert show_rough(1234.0, "volume", "metric", unit="L") == "1\N{NO-BREAK SPACE}200 L"
    assert show_rough(1.234, "volume", "metric") == show_rough(1234.0, "volume", "metric", unit="L")
