"""Figures and readings as CSV and XLSX: numbers stay numbers, and no text becomes a formula."""

import io
import math

import numpy as np
import openpyxl
import pandas
import pytest
from evenfall.record.file import parse_record
from evenfall.record.samples import SHOWS, sample_text
from evenfall.result.assessment import assess
from evenfall.result.tables import cans_rows, defuse, figures_rows, to_csv, to_xlsx
from hypothesis import given, settings
from hypothesis import strategies as st

from ..conftest import result_of
from ..record_texts import text_of

DANGEROUS = ["=1+1", "+1", "-1", "@sum(a1)", "\t=1", "\r=1", "\n=1", " =1", "\u00a0=1", "\u3000@a", "＝1+1", "＋1",
             "－1", "＠a", "=HYPERLINK(\"x\")", "  -2+3"]


@pytest.mark.parametrize("text", DANGEROUS)
def test_texts_that_a_spreadsheet_would_run_get_an_apostrophe(text):
    assert defuse(text) == "'" + text


@pytest.mark.parametrize("cell", ["left", "", "a=1", "1 - 2", "'=1", "–", 3, -2.5, None, True, "T-4", "#1"])
def test_everything_else_is_left_alone(cell):
    assert defuse(cell) is cell


def csv_back(rows):
    return pandas.read_csv(io.BytesIO(to_csv(rows)), header=None, keep_default_na=False, dtype=str)


def sheet_back(rows):
    book = openpyxl.load_workbook(io.BytesIO(to_xlsx({"Sheet": rows})))
    return [[cell for cell in row] for row in book["Sheet"].iter_rows()]


@pytest.mark.parametrize("text", [*DANGEROUS, "\x00=1", "\x0b=1", "\x1b-1", "\x01 +1"])
def test_a_hostile_title_comes_out_as_text(text):
    record = parse_record(text_of())
    record = record.model_copy(update={"test": record.test.model_copy(update={"title": text})})
    rows = figures_rows(record, assess(record, only="cans"))
    title = to_csv(rows).decode("utf-8-sig").split("title,")[1].lstrip('"')
    assert title.startswith("'") and "\x00" not in title and "\x1b" not in title
    cells = [cell for row in sheet_back(rows) for cell in row]
    assert not [cell for cell in cells if cell.data_type == "f"]
    assert any(isinstance(cell.value, str) and cell.value.startswith("'") for cell in cells)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.lists(st.one_of(
    st.text(st.characters(exclude_categories=("Cs",)), max_size=12), st.integers(-10**9, 10**9),
    st.floats(allow_nan=False, allow_infinity=False), st.none()), min_size=1, max_size=3), min_size=1, max_size=4))
def test_no_table_holds_a_formula(rows):
    for row in sheet_back([["head"] * 3, *rows])[1:]:
        for cell in row:
            assert cell.data_type != "f"
            assert not (isinstance(cell.value, str) and cell.value.lstrip().startswith(("=", "+", "-", "@", "＝")))
    text = to_csv(rows).decode("utf-8-sig")
    assert not text.startswith(("=", "@", "\t")) and "\x00" not in text


def figures(system):
    record = parse_record(sample_text("commissioning"))
    result = assess(record, system=system)
    return record, result, figures_rows(record, result, system), cans_rows(record, result, system)


@pytest.mark.parametrize("system", ["metric", "US"])
def test_figures_as_csv(system):
    _, result, rows, _ = figures(system)
    back = csv_back(rows)
    assert list(back.iloc[0]) == ["figure", "value", "unit"]
    table = {name: (value, unit) for name, value, unit in back.iloc[1:].itertuples(index=False)}
    factor, depth = (1, "mm") if system == "metric" else (25.4, "in")
    assert table["mean depth"][1] == depth
    assert float(table["mean depth"][0]) == pytest.approx(result.catch.mean_mm / factor, abs=6e-4)
    assert float(table["DUlq at the cans"][0]) == pytest.approx(result.at_the_cans.du_low_quarter, abs=0.051)
    assert float(table["application rate"][0]) == pytest.approx(result.catch.rate_mm_h / factor, abs=6e-4)
    assert table["application rate"][1] == f"{depth}/h"
    assert float(table["mean depth as read"][0]) == pytest.approx(
        result.at_the_cans.uncorrected.mean_mm / factor, abs=6e-4)
    assert table["title"][0] == "Tunnel 2 handed over, three lines"
    assert len(back) == len(rows)


@pytest.mark.parametrize("system", ["metric", "US"])
def test_cans_as_csv(system):
    _, result, _, rows = figures(system)
    back = pandas.read_csv(io.BytesIO(to_csv(rows)))
    place, depth, size = ("m", "mm", 1) if system == "metric" else ("ft", "in", 25.4)
    assert list(back.columns) == ["can", f"across [{place}]", f"along [{place}]", "entered [mL]", f"as read [{depth}]",
                                  f"in the figures [{depth}]", "state", "why set aside"]
    assert back[f"as read [{depth}]"].dtype.kind == back[f"across [{place}]"].dtype.kind == "f"
    assert len(back) == result.catch.cans
    counted = back[back["state"] == "counted"]
    assert counted[f"in the figures [{depth}]"].mean() == pytest.approx(result.catch.mean_mm / size, abs=1e-3)
    assert back["can"][7] == "row 2, can 2"
    assert list(back["entered [mL]"][:7]) == [61, 80, 76, 78, 75, 54, 72]
    assert back[f"as read [{depth}]"][0] == pytest.approx(10 * 61 / (np.pi / 4 * 8.4**2) / size, abs=6e-4)


def test_cans_without_a_reading_have_empty_cells_and_aside_ones_their_reason():
    record = parse_record(sample_text("blocked-head"))
    rows = cans_rows(record, assess(record))
    [missing] = [row for row in rows if row[6] == "no reading"]
    assert missing[3] is missing[4] is missing[5] is None
    [aside] = [row for row in rows if row[6] == "set aside"]
    assert aside[0] == "row 3, can 8" and aside[7] == "stood on a clod, tipped" and aside[3] == 1.3 and aside[4] > 0
    assert rows[0][3] == "entered [fl oz]"
    assert not any(isinstance(cell, float) and math.isnan(cell) for row in rows for cell in row)


@pytest.mark.parametrize("name", SHOWS)
def test_workbooks_hold_the_same_cells_as_numbers_and_no_formula(name):
    record, result = parse_record(sample_text(name)), result_of(name)
    sheets = {"Figures": figures_rows(record, result), "Cans": cans_rows(record, result)}
    book = openpyxl.load_workbook(io.BytesIO(to_xlsx(sheets)))
    assert book.sheetnames == ["Figures", "Cans"]
    for title, rows in sheets.items():
        sheet = book[title]
        assert sheet.freeze_panes == "A2"
        for given_row, row in zip(rows, sheet.iter_rows(), strict=True):
            for value, cell in zip(given_row, row, strict=True):
                assert cell.data_type != "f"
                assert cell.value == (None if value == "" else value)
                if isinstance(value, float | int):
                    assert cell.data_type == "n"


def test_csv_begins_with_a_byte_order_mark():
    assert to_csv([["für", None, 1.5]]) == b"\xef\xbb\xbff\xc3\xbcr,,1.5\r\n"
