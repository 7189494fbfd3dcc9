"""Records as files: any record survives writing and reading, and saving is whole or not at all."""

import datetime
import json
import os
import stat
import tomllib

import pytest
from evenfall.record import file as record_file
from evenfall.record.checks import build
from evenfall.record.faults import RecordFaults
from evenfall.record.file import decode, parse_record, plain_text, read_record, record_text, save_record, save_text
from evenfall.record.model import to_plain
from evenfall.record.samples import SHOWS, sample_text
from hypothesis import given, settings
from hypothesis import strategies as st

from ..record_texts import FULL, POINTS, ROWS, text_of

texts = st.text(st.characters(exclude_categories=("Cs",)), max_size=30)
names = st.text(st.characters(exclude_categories=("Cs",), exclude_characters=":,"), min_size=1, max_size=12)
dates = st.dates(datetime.date(1990, 1, 1), datetime.date(2100, 1, 1))
# Odd spellings of a length of `n` hundredths of a metre on a floor of 20 m by 40 m.
SPELLINGS = [
    lambda n: f"{n / 100:.2f} m", lambda n: f"{n / 100:.2f}m".replace(".", ","), lambda n: f"{n} CM",
    lambda n: f"{n * 10} mm", lambda n: f"{n}/100 m", lambda n: f"{n // 100} {n % 100}/100 m",
    lambda n: f" {n / 30.48:.6f} Ft ", lambda n: f"{n // 31} ft {n % 12} 1/4 in", lambda n: f"{n / 2.54:.5f} in.",
    lambda n: f"{n}e-2\u00a0M",
]


def lengths(low, high):
    return st.builds(lambda n, spell: spell(n), st.integers(low, high), st.sampled_from(SPELLINGS))


def quantities(*examples):
    return st.sampled_from(examples)


x_places, y_places = lengths(0, 1900), lengths(0, 3800)
readings = st.one_of(
    st.integers(1, 900), st.floats(0.001, 900.0), st.just(0), st.just(float("nan")),
    st.sampled_from([31.0, 1e-07, 5e-324]))
pressures = quantities("200 kPa", "2 Bar", "30 PSI", "1,5 bar", "8 m of water", "29 1/2 psi")
flows = quantities("40 L/h", "0,2 gpm", "12 gph", "40 lph", "1.0 m³/h", "1/5 GPM", "0.7 l/min")


def section(needed=None, **optional):
    return st.fixed_dictionaries(needed or {}, optional=optional)


HEAD = {
    "label": texts, "flow": flows, "at": pressures, "exponent": st.one_of(st.just(0.5), st.floats(0, 1)),
    "wetted_diameter": lengths(30, 900), "opens_at": pressures, "closes_at": pressures, "regulated": st.booleans(),
    "installed": dates,
}


@st.composite
def heads_on_a_line(draw):
    if draw(st.booleans()):
        return {"heads_at": draw(st.lists(y_places, min_size=1, max_size=5))}
    return {"first": draw(lengths(0, 300)), "spacing": "75 cm", "count": draw(st.integers(1, 40))}


@st.composite
def line(draw, name):
    more = draw(section(**HEAD, height=lengths(0, 300), pipe=lengths(1, 9), ran=quantities("20 min", "1/3 h"),
                        fed_from=st.sampled_from(["near", "far", "middle"]), feed=lengths(0, 900),
                        rise=quantities("-0.2 m", "1 ft", "-2 in")))
    return {"name": name, "x": draw(x_places), **draw(heads_on_a_line()), **more}


@st.composite
def supply(draw):
    bucket = section({"pressure": pressures, "volume": quantities("20 L", "5 US gal"), "time": quantities("26 s")})
    return draw(section(
        kind=st.sampled_from(["mains", "pump", "pump with tank", "gravity"]), static=pressures, cut_in=pressures,
        cut_out=pressures, flowing=st.lists(bucket, max_size=3), height=lengths(0, 200),
        hose=section({"length": lengths(100, 900), "inside": quantities("19 mm", "3/4 in")}),
        filter=section({"clean_loss": pressures, "at": flows}),
        regulator=section({"set": pressures}, least_flow=flows, most_flow=flows)))


SOUND = st.lists(st.floats(20, 90), min_size=4, max_size=4)  # enough usable cans, whatever else is drawn


@st.composite
def on_a_grid(draw, caught):
    columns, rows = draw(st.integers(4, 6)), draw(st.integers(1, 5))
    across = draw(st.lists(lengths(100, 1500), min_size=columns, max_size=columns))
    along = draw(st.lists(y_places, min_size=rows, max_size=rows))
    first = draw(SOUND) + draw(st.lists(caught, min_size=columns - 4, max_size=columns - 4))
    grid = [first] + [draw(st.lists(caught, min_size=columns, max_size=columns)) for _ in range(rows - 1)]
    return {"across": across, "along": along, "grid": grid}, grid


@st.composite
def in_rows(draw, caught):
    rows = []
    for number in range(draw(st.integers(1, 4))):
        catch = (draw(SOUND) if number == 0 else []) + draw(st.lists(caught, min_size=1, max_size=3))
        x = draw(st.lists(lengths(100, 1500), min_size=len(catch), max_size=len(catch)))
        rows.append({"y": draw(y_places), "x": x, "catch": catch})
    return {"rows": rows}, [row["catch"] for row in rows]


@st.composite
def at_points(draw, caught):
    catch = draw(SOUND) + draw(st.lists(caught, max_size=4))
    return {"points": [{"x": draw(x_places), "y": draw(y_places), "catch": reading} for reading in catch]}, [catch]


FORMS = {"grid": on_a_grid, "rows": in_rows, "points": at_points}


@st.composite
def set_aside(draw, shape, form):
    """A few of the cans that the record can spare, each with its reason."""
    spare = [(row, column) for row, length in enumerate(shape) for column in range(length) if row or column >= 4]
    chosen = draw(st.lists(st.sampled_from(spare), unique=True, max_size=3)) if spare else []
    why = st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=9)
    return [({"point": column + 1} if form == "points" else {"row": row + 1, "column": column + 1})
            | {"why": draw(why)} for row, column in chosen]


@st.composite
def cans(draw):
    reads, unit = draw(st.sampled_from([("volume", "mL"), ("volume", "fl oz"), ("depth", "in"), ("weight", "g")]))
    value = {"reads": reads, "unit": unit}
    if reads != "depth":
        key, opening = draw(st.sampled_from([("opening", "84 mm"), ("opening", "3 1/4 in"), ("opening_area", "9 in²")]))
        value[key] = opening
    caught = readings
    if reads == "weight":
        value["tare"] = "12,5 g"
        caught = st.one_of(st.floats(13, 900), st.just(float("nan")))
    form = draw(st.sampled_from(["grid", "rows", "points"]))
    placed, catches = draw(FORMS[form](caught))
    value |= placed
    shape = [len(row) for row in catches]
    if form != "points" and draw(st.booleans()):
        value["stagger"] = draw(lengths(0, 60))
    weights = [[draw(st.sampled_from([1, 2.5])) for _ in range(length)] for length in shape]
    kind = draw(st.sampled_from([None, "equal", "nearest area", weights[0] if form == "points" else weights]))
    if kind is not None:
        value["weights"] = kind
    aside = draw(set_aside(shape, form))
    if aside:
        value["set_aside"] = aside
    value |= draw(section(placed_within=quantities("5 cm", "2 in"), exposed=quantities("55 min", "1 1/2 h")))
    if draw(st.booleans()):
        value["evaporation"] = {"start": 50.0, "end": draw(st.lists(st.sampled_from([49, 49.5, 50.0]), min_size=1,
                                                                   max_size=3)), "time": "72 h"}
    return value


@st.composite
def plain_records(draw):
    """Plain values of a sound record, with any of the optional keys and odd spellings of the quantities."""
    lines = [draw(line(name)) for name in draw(st.lists(names, unique=True, max_size=3))]
    id_ = st.from_regex(r"[A-Za-z0-9][A-Za-z0-9._-]{0,20}", fullmatch=True)
    run = draw(section({"duration": quantities("30 min", "1/2 h", "1800 s", "0,5 H")},
                       wind=quantities("0.3 m/s", "1 MPH"), sides=st.sampled_from(["closed", "part open", "open"]),
                       water=quantities("16 C", "61 °F", "-1 C"),
                       metered=quantities("1020 L", "270 gal")))
    if len(lines) > 1 or draw(st.booleans()):
        run["lines"] = draw(st.sampled_from(["together", "in turn"]))
    bed = section({"from": lengths(0, 10), "to": quantities("19.9 m", "65 ft")}, start=quantities("0 m"),
                  end=quantities("40 m", "131 ft"))
    patch = section({"x": st.lists(x_places, min_size=2, max_size=2), "y": st.lists(y_places, min_size=2, max_size=2)},
                    note=texts)
    record = {
        "record": 1,
        "test": draw(section({"title": texts.filter(bool)}, id=id_, date=dates, site=texts, zone=texts, tunnel=texts,
                             member=texts, by=texts, notes=st.one_of(texts, st.just("two\nlines \"\"\" ''' \\ \t#")),
                             purpose=st.sampled_from(["commissioning", "diagnosis", "recheck", "survey"]))),
        "floor": draw(section({"width": quantities("20 m", "70 ft", "2000 cm"), "length": quantities("40 m", "132 ft")},
                              hangs_at=st.lists(x_places, max_size=3))),
        "cans": draw(cans()), "run": run,
    }
    record |= draw(section(
        target=section(du_low_quarter=st.one_of(st.integers(1, 100), st.floats(1, 100)),
                       figure=st.sampled_from(["at the cans", "whole floor"])),
        heads=section(**HEAD, height=lengths(0, 300)),
        pressures=st.lists(section({"at": st.sampled_from(["supply", "line", "filter inlet"]), "value": pressures},
                                   line=names, head=st.integers(1, 99), height=lengths(0, 200)), max_size=2),
        head_flows=st.lists(section({"line": names, "head": st.integers(1, 99), "volume": quantities("410 mL"),
                                     "time": quantities("60 s", "1 min")}), max_size=2),
        supply=supply(), other_supplies=st.lists(st.tuples(names, supply()).map(lambda two: {"name": two[0], **two[1]}),
                                                 max_size=2),
        care=section(filter_cleaned=dates, lines_flushed=dates, heads_checked=dates),
        crop=section(kind=texts, daily_use=quantities("4 mm", "1/8 in"), soil=texts, root_depth=lengths(5, 90)),
        patches=st.lists(patch, max_size=2)))
    if lines:
        record["lines"] = lines
    if draw(st.booleans()) and "points" not in record["cans"]:
        record["floor"]["beds"] = [draw(bed)]
    return record


def same(one, other):
    """Equal values of equal types; nan is nan."""
    return repr(to_plain(one)) == repr(to_plain(other))


@settings(max_examples=60, deadline=None)
@given(plain_records())
def test_any_record_survives_writing_and_reading(plain):
    record = build(plain)
    text = record_text(record)
    again = parse_record(text)
    assert same(record, again)
    assert in_any_order(tomllib.loads(text)) == in_any_order(plain)
    assert record_text(again) == text


def in_any_order(plain):
    """Values as a text that does not depend on the order of keys; 31 and 31.0 differ, nan equals nan."""
    return json.dumps(plain, sort_keys=True, default=repr)


@pytest.mark.parametrize("text", [FULL, ROWS, POINTS, text_of()], ids=["grid", "rows", "points", "least"])
def test_the_full_records_survive(text):
    record = parse_record(text)
    again = parse_record(record_text(record))
    assert same(record, again)
    assert again.floor.width.text in text


def test_quantities_keep_the_text_they_were_entered_with():
    record = parse_record(text_of(floor='[floor]\nwidth = " 19 ft 8 1/4 IN"\nlength = "12,00m"\n'))
    text = record_text(record)
    assert 'width = " 19 ft 8 1/4 IN"\n' in text and 'length = "12,00m"\n' in text
    assert record.floor.width.si == pytest.approx(19 * 0.3048 + 8.25 * 0.0254)


def test_numbers_keep_their_kind():
    text = record_text(parse_record(FULL))
    assert "[31, 28, 29.5]" in text and "[30, nan, 27]" in text and "start = 50.0" in text


def test_the_grid_has_a_line_a_row():
    text = record_text(parse_record(FULL))
    assert "grid = [\n    [31, 28, 29.5],\n    [30, nan, 27],\n]\n" in text


@pytest.mark.parametrize("name", SHOWS)
def test_samples_survive(name):
    record = parse_record(sample_text(name))
    text = record_text(record)
    assert same(record, parse_record(text))
    assert tomllib.loads(text).keys() == tomllib.loads(sample_text(name)).keys()


def test_an_unfinished_record_can_be_written():
    plain = {"record": 1, "test": {"title": ""}, "cans": {"reads": "volume"}, "floor": {}}
    assert tomllib.loads(plain_text(plain)) == plain


def test_save_and_read(tmp_path):
    record, path = parse_record(FULL), tmp_path / "ä test.toml"
    save_record(record, path)
    assert same(read_record(path), record)
    assert os.listdir(tmp_path) == [path.name]
    save_record(parse_record(POINTS), path)
    assert same(read_record(path), parse_record(POINTS))
    assert b"\r" not in path.read_bytes()
    if os.name == "posix":
        assert stat.S_IMODE(path.stat().st_mode) == 0o644


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_failure_leaves_the_old_file(tmp_path, monkeypatch, step):
    path = tmp_path / "a.toml"
    save_text("old\n", path)

    def full(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(record_file.os, step, full)
    with pytest.raises(OSError, match="No space left"):
        save_text("new\n" * 1000, path)
    monkeypatch.undo()
    assert path.read_text() == "old\n"
    assert os.listdir(tmp_path) == ["a.toml"]


def test_a_text_that_cannot_be_written_leaves_the_old_file(tmp_path):
    path = tmp_path / "a.toml"
    save_text("old\n", path)
    with pytest.raises(UnicodeEncodeError):
        save_text("\ud800", path)
    assert path.read_text() == "old\n" and os.listdir(tmp_path) == ["a.toml"]


def test_saving_into_no_folder_fails_loudly(tmp_path):
    with pytest.raises(FileNotFoundError):
        save_text("text", tmp_path / "no" / "a.toml")


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_are_text_or_one_fault(data):
    try:
        assert decode(data).strip()
    except RecordFaults as error:
        assert len(error.lines) == 1 and error.lines[0].startswith("record:1: received ")


@settings(max_examples=60, deadline=None)
@given(st.integers(0, len(FULL) - 1), st.text(max_size=3), st.integers(0, 3))
def test_a_damaged_record_is_a_record_or_a_list_of_faults(at, put, cut):
    text = FULL[:at] + put + FULL[at + cut :]
    try:
        parse_record(text, "f")
    except RecordFaults as error:
        lines = text.count("\n") + 2
        for line_ in error.lines:
            assert line_.startswith("f:") and 1 <= int(line_.split(":")[1]) <= lines
