"""Readings from elsewhere: what is understood, what is said, and what is refused."""

import datetime
import decimal
import math
import random
import time

import pytest
from evenfall.entry.grids.doubts import EDGES
from evenfall.entry.grids.reading import GridError, Understood, read_file, read_text, to_cans
from hypothesis import HealthCheck, assume, example, given, settings
from hypothesis import strategies as st

from .workbooks import book, packed, unpacked

NAN = math.nan


def same(got, expected):
    """Rows of readings, with nan equal to nan."""
    return [[None if math.isnan(value) else value for value in row] for row in got] == [
        [None if value is None or math.isnan(value) else value for value in row] for row in expected]


def doubted(understood, *words):
    said = [*(doubt.says for doubt in understood.doubts), *understood.remarks]
    return any(all(word in text for word in words) for text in said)


def noted(understood, *words):
    return any(all(word in note for word in words) for note in understood.notes)


# ---- separators and numbers ----

@pytest.mark.parametrize("text, expected", [
    ("31\t28\t29\n30\t27\t26", [[31, 28, 29], [30, 27, 26]]),
    ("31,28,29\r\n30,27,26\r\n\r\n", [[31, 28, 29], [30, 27, 26]]),
    ("31;28\r30;27", [[31, 28], [30, 27]]),
    ("31|28\n30|27", [[31, 28], [30, 27]]),
    ("| a | b |\n|---|:--|\n| 31 | 28 |\n| 30 | 27 |", [[31, 28], [30, 27]]),
    ("31 28 29\n30 27 26", [[31, 28, 29], [30, 27, 26]]),
    ("  31   28\n   5    0", [[31, 28], [5, 0]]),
    ("31\n28\n29", [[31], [28], [29]]),
    ("31 28 29", [[31, 28, 29]]),
    ("12,5\t13,1\n14,0\t0", [[12.5, 13.1], [14, 0]]),
    ("12,5;13,1\n14;0", [[12.5, 13.1], [14, 0]]),
    ("12.5,13.1\n14,0", [[12.5, 13.1], [14, 0]]),
    ("12,5 13,1 14,0\n11 12,5 13", [[12.5, 13.1, 14], [11, 12.5, 13]]),
    ('"12,5","13,1"\n"14,0","0"', [[12.5, 13.1], [14, 0]]),
    ('"31","28"\n"30",""', [[31, 28], [30, NAN]]),
    ("\ufeff31\u00a0\t28\n\u2009\t27", [[31, 28], [NAN, 27]]),
    ("31\u00a028\n30\u00a027", [[31, 28], [30, 27]]),
    ("sep=;\n31;28", [[31, 28]]),
    ("x 0,5\n0 x\n1 2", [[NAN, 0.5], [0, NAN], [1, 2]]),
    ("Row 1,5\nRow 2,7", [[5], [7]]),
    ("1 1/4\t1/2\n2\t.5", [[1.25, 0.5], [2, 0.5]]),
    ("31\t28\t\n30\t27\t\n\t\t\n", [[31, 28], [30, 27]]),
    ('5"\t6"\n7"\t8"', [[5, 6], [7, 8]]),
])
def test_separators(text, expected):
    assert same(read_text(text).readings, expected)


@pytest.mark.parametrize("text, expected, said", [
    ("12,5,13,1,14,0\n11,5,12,0,13,5", [[12.5, 13.1, 14], [11.5, 12, 13.5]], "decimal commas where the columns ask"),
    ("12,5\n13,1\n14,0", [[12.5], [13.1], [14]], "decimal commas where the columns ask"),
    ("0.6 m,1.9 m,3.2 m\n31,5,28,5,29,5", [[31.5, 28.5, 29.5]], "decimal commas where the columns ask"),
    ("A,B,C\n31,5,28,5,29,5\n30,28,27", [[31.5, 28.5, 29.5], [30, 28, 27]], "decimal commas where the columns ask"),
    ("12,5, 13,1\n14,5, 13,0", [[12.5, 13.1], [14.5, 13]], "a comma and a space was taken as the separator"),
    ("31,28\n30,27", [[31, 28], [30, 27]], "if it is a decimal comma"),
    ("31,28,29\n30,27", [[31, 28, 29], [30, 27]], "different numbers of commas"),
])
def test_comma_as_separator_and_decimal_is_doubted(text, expected, said):
    understood = read_text(text)
    assert same(understood.readings, expected)
    assert doubted(understood, said)


def test_the_decimal_mark_can_be_told():
    assert read_text("1,200\t1,300", {"decimal": ","}).readings == ((1.2, 1.3),)
    assert read_text("1,200\t1,300", {"decimal": "."}).readings == ((1200, 1300),)


@pytest.mark.parametrize("text, expected", [
    ("1 200\t900", 1200), ("1\u202f200\t900", 1200), ("1'200\t900", 1200), ("1,200\t13.5", 1200), ("1.200\t13,5", 1200),
    ("1,200.5\t9", 1200.5), ("1.200,5\t9", 1200.5), ("1,200,300.5\t9", None), ("12.125\t9", 12.125), ("0,125\t9",
        0.125),
])
def test_thousands(text, expected):
    understood = read_text(text)
    assert same(understood.readings[:1], [[expected, understood.readings[0][1]]])
    assert understood.doubts


def test_ambiguous_thousands_are_no_reading_and_doubted():
    understood = read_text("1,200\t900")
    assert same(understood.readings, [[NAN, 900]])
    assert doubted(understood, "Row 1, column 1: '1,200' may mean thousands or a decimal comma: write 1200 or 1.200",
                   "it was taken as no reading.")


@pytest.mark.parametrize("mark", ["", "-", "–", "—", "x", "X", "n/a", "NA", "nan", "missing", "None", ".", "\u00a0"])
def test_marks_are_no_reading_and_zero_is_a_dry_can(mark):
    understood = read_text(f"31\t{mark}\t29\n0\t27\t26")
    assert same(understood.readings, [[31, NAN, 29], [0, 27, 26]])
    assert noted(understood, "1 dry can with 0")
    assert noted(understood, "no reading")
    assert understood.texts[0] == ("31", mark, "29")


def test_every_cell_that_is_not_understood_is_named():
    understood = read_text("31\tabc\t29\n30\t(5)\t2O\n31 %\t28\t1e999")
    assert same(understood.readings, [[31, NAN, 29], [30, NAN, NAN], [NAN, 28, NAN]])
    assert doubted(understood, "Row 1, column 2: 'abc' is not a number; it was taken as no reading.")
    for text in ("'(5)'", "'2O'", "'31 %'", "'1e999'"):
        assert doubted(understood, text)
    many = read_text("\n".join(f"{at}\tw{at}\t5" for at in range(40)), {"first_column": "reading"})
    assert all(doubted(many, f"'w{at}'") for at in range(40))
    assert doubted(many, "20 more cells taken as no reading: Row 21, column 2: 'w20'")


def test_minus_zero_is_zero():
    assert math.copysign(1, read_text("-0\t31").readings[0][0]) == 1


# ---- units ----

@pytest.mark.parametrize("text, unit, reads", [
    ("catch (mL)\n31\n28", "mL", "volume"),
    ("catch [mm]\t0.6 m\t1.9 m\n1.2 m\t31\t28", "mm", "depth"),
    ("mL\t0.6 m\t1.9 m\n1.2 m\t31\t28", "mL", "volume"),
    ("31 mL\t28 ml", "mL", "volume"),
    ("31 cm3\t28 cc", "mL", "volume"),
    ("1 fl oz\t1.5 fl oz", "fl oz", "volume"),
    ("31 g\t28 g", "g", "weight"),
    ("0.5 in\t0.25 in", "in", "depth"),
    ("Depths in mm\n\n31\t28\n30\t27", "mm", "depth"),
    ("L\tM\tR\n31\t28\t29", None, None),
    ("mL\tmL\n31\t28", "mL", "volume"),
    ("31\t28", None, None),
])
def test_units(text, unit, reads):
    understood = read_text(text)
    assert (understood.unit, understood.reads) == (unit, reads)
    assert same(understood.readings, [[value for value in row] for row in understood.readings])
    assert not any(math.isnan(value) for row in understood.readings for value in row)


def test_units_that_disagree_are_doubted():
    understood = read_text("31 mL\t28 mL\n30 mL\t0.5 L")
    assert same(understood.readings, [[31, 28], [30, 500]])
    assert doubted(understood, "Row 2, column 2: '0.5 L' is in L, not in mL: it was taken as 500 mL.")
    assert doubted(read_text("31 mL\t28"), "1 reading without a unit: mL was taken")
    assert doubted(read_text("31 mm\t28 mm", default_unit="mL"), "The table says mm, not mL")
    understood = read_text("31\t28", default_unit="ml")
    assert understood.unit == "mL" and noted(understood, "mL was taken, as set")
    assert doubted(read_text("31\t28"), "No unit of the readings was found")


# ---- distances, names and titles ----

@pytest.mark.parametrize("text, across, along", [
    ("\t0.6 m\t1.9 m\n1.2 m\t31\t28\n3.6 m\t30\t27", ("0.6 m", "1.9 m"), ("1.2 m", "3.6 m")),
    ("     0.6 m 1.9 m\n1.2 m   31    28\n3.6 m   30    27", ("0.6 m", "1.9 m"), ("1.2 m", "3.6 m")),
    ("0,6 m;1,9 m\n31;28\n30;27", ("0,6 m", "1,9 m"), None),
    ("2 ft\t2 ft 6 in\n31\t28\n30\t27", ("2 ft", "2 ft 6 in"), None),
    ("1.2 m\t31\t28\n3.6 m\t30\t27", None, ("1.2 m", "3.6 m")),
    ("y \\ x (m)\t0.6\t1.9\n1.2\t31\t28\n3.6\t30\t27", ("0.6 m", "1.9 m"), ("1.2 m", "3.6 m")),
    ("y \\ x (m)\t1\t2\n1\t31\t28\n2\t30\t27", ("1 m", "2 m"), ("1 m", "2 m")),
    ("x = 0.6 m\tx = 1.9 m\n31\t28\n30\t27", ("0.6 m", "1.9 m"), None),
    ("Tunnel\n\nleft\tright\n0.6 m\t1.9 m\n31\t28\n30\t27", ("0.6 m", "1.9 m"), None),
    ("y (ft)\tleft\tright\n4\t31\t28\n12\t30\t27", None, ("4 ft", "12 ft")),
    ("60 cm\t190 cm\n31\t28\n30\t27", ("60 cm", "190 cm"), None),
])
def test_distances(text, across, along):
    understood = read_text(text)
    assert (understood.across, understood.along) == (across, along)
    assert same(understood.readings, [[31, 28], [30, 27]])


def test_bare_distances_are_taken_as_metres_with_a_doubt():
    understood = read_text("\t0.6\t1.9\n1.2\t31\t28\n3.6\t30\t27")
    assert understood.across == ("0.6 m", "1.9 m") and understood.along == ("1.2 m", "3.6 m")
    assert doubted(understood, "2 distances across without a unit: m was assumed.")
    assert doubted(understood, "2 distances along without a unit: m was assumed.")


@pytest.mark.parametrize("text", [
    "28\t29\t31\n30\t27\t26", "A\t28\t29\t31\nB\t30\t27\t26", "Row 1\t28\t29\t31\nRow 2\t30\t27\t26"])
def test_a_rising_first_row_of_readings_is_not_swallowed(text):
    understood = read_text(text)
    assert same(understood.readings, [[28, 29, 31], [30, 27, 26]])
    assert understood.across is None and understood.along is None


def test_a_blank_corner_can_be_a_can_without_reading():
    assert same(read_text("\t28\t29\n30\t27\t26\n25\t24\t23").readings, [[NAN, 28, 29], [30, 27, 26], [25, 24, 23]])


@pytest.mark.parametrize("text", ["\t1\t2\n1\t31\t28\n2\t30\t27", "mL\t1\t2\n1\t31\t28\n2\t30\t27"])
def test_counting_is_not_distances_and_is_doubted(text):
    understood = read_text(text)
    assert understood.across is None and understood.along is None
    assert same(understood.readings, [[31, 28], [30, 27]])
    assert doubted(understood, "(1, 2) was taken as counting the columns, not as distances")
    assert doubted(understood, "(1, 2) was taken as counting the rows, not as distances")


def test_names_titles_and_worked_out_figures():
    understood = read_text("Heron Bank\n18 March\n\nrow\tleft\tright\tmean\nA\t31\t28\t29.5\nB\t30\tabc\t30\n"
                           "Mean\t30.5\t28\t\n\nmeasured by hand\t\t\t")
    assert same(understood.readings, [[31, 28], [30, NAN]])
    assert noted(understood, "Line 1, 'Heron Bank', was taken as a title.")
    assert noted(understood, "Line 2, '18 March', was taken as a title.")
    assert noted(understood, "'row, left, right, mean'") and noted(understood, "(A, B) was taken as names of the rows")
    for words in (("Line 7", "'Mean 30.5 28'"), ("Column 4", "'mean 29.5 30'"), ("Line 9", "'measured by hand'"),
                  ("Row 2, column 2 (line 6, cell 3): 'abc'",)):
        assert doubted(understood, *words)


def test_a_distance_that_cannot_be_read_is_doubted():
    understood = read_text("\t0.6 m\t\t3.2 m\n1 m\t31\t28\t29\n3 m\t30\t27\t26")
    assert understood.across is None and understood.along == ("1 m", "3 m")
    assert doubted(understood, "looks like distances across", "none was taken")
    assert doubted(read_text("0.6 m\t0.6 m\n31\t28"), "neither rise nor fall")
    assert doubted(read_text("60 cm\t190 cm\n31\t28"), "check that it does not hold readings")


def test_rows_that_differ_are_not_filled_up():
    understood = read_text("\t0.6 m\t1.9 m\t3.2 m\n1 m\t31\t28\t29\n3 m\t30\t27")
    assert understood.rows_differ and same(understood.readings, [[31, 28, 29], [30, 27]])
    assert doubted(understood, "different numbers of cells (3, 2)")
    assert to_cans(understood) == {"rows": [
        {"catch": [31, 28, 29], "y": "1 m", "x": ["0.6 m", "1.9 m", "3.2 m"]},
        {"catch": [30, 27], "y": "3 m", "x": ["0.6 m", "1.9 m"]}]}


def test_blank_lines():
    assert noted(read_text("31\t28\n\n30\t27"), "1 blank line between the rows: left out.")
    assert same(read_text("31\n\n28\n\n29").readings, [[31], [28], [29]])
    understood = read_text("31\n28\n\n29")
    assert same(understood.readings, [[31], [28], [NAN], [29]]) and doubted(understood, "1 blank line "
                                                                                        "inside the column")
    understood = read_text("31\t28\n\t\n30\t27")
    assert same(understood.readings, [[31, 28], [NAN, NAN], [30, 27]]) and doubted(understood, "Row 2 has only blank")


# ---- lists with places ----

def test_a_list_of_cans():
    understood = read_text("Tunnel 4\nx,y,catch (mL),note\n0.6,1.2,31,\n1.9,1.2,x,windy\n3.2,?,28,\n3.2,3.6,0,")
    assert [point[:2] for point in understood.points] == [("0.6 m", "1.2 m"), ("1.9 m", "1.2 m"), ("3.2 m", "3.6 m")]
    assert same(understood.readings, [[31], [NAN], [0]])
    assert understood.unit == "mL"
    assert doubted(understood, "6 distances without a unit: m was assumed.")
    assert doubted(understood, "Line 5", "'28'", "its place cannot be read")
    assert doubted(understood, "Column 4, 'note', was not used: 'windy'.")
    cans = to_cans(understood)
    assert cans["points"][0] == {"x": "0.6 m", "y": "1.2 m", "catch": 31}
    assert set(cans) == {"reads", "unit", "points"}


@pytest.mark.parametrize("heading, first", [
    ("across (ft);along (ft);reading", ("2 ft", "4 ft")), ("x_m;y_m;catch_mL", ("2 m", "4 m")),
    ("X [m];Y [m];mm", ("2 m", "4 m")), ("x (m);y (m);Tray A", ("2 m", "4 m"))])
def test_headings_of_a_list(heading, first):
    understood = read_text(f"{heading}\n2;4;31,5\n6;4;30")
    assert understood.points[0] == (*first, 31.5)
    assert not doubted(understood, "assumed")


def test_a_list_may_be_as_long_as_there_may_be_cans():
    lines = ["x (m),y (m),catch (mL)"] + [f"{at % 40},{at // 40},{at}" for at in range(2000)]
    assert len(read_text("\n".join(lines)).points) == 2000
    with pytest.raises(GridError, match="received 2,001 cans, expected at most 2000, send one zone's readings"):
        read_text("\n".join([*lines, "1.5,1.5,31"]))


# ---- files ----

@pytest.mark.parametrize("code", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "cp1252"])
def test_codes_of_letters(code):
    understood = read_file("Übung é\t\n31\t28\n30\t27\n".encode(code), "catch.csv")
    assert same(understood.readings, [[31, 28], [30, 27]])
    assert noted(understood, "'Übung é'")
    assert doubted(understood, "not coded as UTF-8") is (code == "cp1252")


def test_a_workbook_and_its_sheets():
    data = book([["y \\ x (m)", 0.6, 1.9], [1.2, 31, "12,5"], [3.6, None, 0]], sheets={"Later": [[5, 6]]})
    understood = read_file(data, "catch.xlsx")
    assert same(understood.readings, [[31, 12.5], [NAN, 0]])
    assert understood.across == ("0.6 m", "1.9 m") and understood.along == ("1.2 m", "3.6 m")
    assert noted(understood, "Sheet 'Catch' was read, one of 2.")
    assert same(read_file(data, "catch.xlsx", sheet="later").readings, [[5, 6]])
    with pytest.raises(GridError, match="received the sheet name 'Nope', expected one of 'Catch', 'Later', choose one"):
        read_file(data, "catch.xlsx", sheet="Nope")
    assert doubted(read_file(b"31,28,5", "a.csv", sheet="Catch"), "a text file has no sheets")


def test_a_hidden_first_sheet_is_passed_over():
    data = book([[1, 2]], sheets={"Shown": [[31, 28]]}, edit=lambda made: setattr(made["Catch"], "sheet_state",
        "hidden"))
    assert same(read_file(data, "a.xlsx").readings, [[31, 28]])


def test_cells_of_a_workbook_that_are_no_plain_numbers():
    def edit(made):
        sheet = made.active
        sheet["B2"] = datetime.date(2027, 4, 3)
        sheet["C2"] = 0.31
        sheet["C2"].number_format = "0%"
        sheet["D2"] = "=B1*2"
        sheet["B3"] = 25
        sheet["B3"].number_format = '0.0" mL"'
        sheet["C3"] = True
        sheet["D3"] = "#DIV/0!"
        sheet.merge_cells("B1:C1")
        sheet.row_dimensions[1].hidden = True

    understood = read_file(book([[31, 28, None, 26], [30] * 4, [29] * 4], edit=edit), "a.xlsx")
    assert same(understood.readings, [[31, 28, NAN, 26], [30, NAN, NAN, NAN], [29, 25, NAN, NAN]])
    for words in (("cell B2", "'2027-04-03' is a date or time"), ("cell C2", "'31%' is a percentage"),
                  ("cell D2", "'=B1*2' is a formula whose result is not kept"), ("'TRUE'",), ("'#DIV/0!'",),
                  ("merged cells B1:C1 hold '28'",), ("hidden rows",)):
        assert doubted(understood, *words)
    assert understood.unit == "mL"


def test_formulas_with_results_are_read():
    data = book([[31, 28], [30, "=A1+1"]])
    members = unpacked(data)
    name = "xl/worksheets/sheet1.xml"
    changed = members[name].replace(b"<f>A1+1</f><v />", b"<f>A1+1</f><v>32</v>").replace(
        b"<f>A1+1</f><v/>", b"<f>A1+1</f><v>32</v>")
    assert changed != members[name]
    assert same(read_file(packed(members | {name: changed}), "a.xlsx").readings, [[31, 28], [30, 32]])
    with pytest.raises(GridError, match="is a formula whose result is not kept in the file"):
        read_file(book([["=1+1"]]), "a.xlsx")


def test_the_size_that_a_sheet_claims_is_not_believed():
    data = book([[31, 28], [30, 27]])
    members = unpacked(data)
    name = "xl/worksheets/sheet1.xml"
    changed = members[name].replace(b'ref="A1:B2"', b'ref="A1:A1"')
    assert changed != members[name]
    assert same(read_file(packed(members | {name: changed}), "a.xlsx").readings, [[31, 28], [30, 27]])


def test_a_table_in_the_middle_of_a_sheet():
    rows = [[None] * 5, [None, None, "mL", "0.6 m", "1.9 m"], [None, None, "1.2 m", 31, 28], [None, None, "3.6 m",
        "abc", 27]]
    understood = read_file(book(rows), "a.xlsx")
    assert same(understood.readings, [[31, 28], [NAN, 27]])
    assert doubted(understood, "Row 2, column 1 (cell D4): 'abc' is not a number")


# ---- refusals ----

OLD = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600)
BAD_TEXTS = [
    ("", "received an empty text, expected a table of readings, copy the cells of the readings and paste them again"),
    (" \n\t\n", "received an empty text, expected a table of readings, copy the cells of the readings and "
                "paste them again"),
    ('""\t""', "received blank cells only, expected a table of readings, send the cells of the readings"),
    ("abc\tdef", "received a table without any number, expected readings such as 31 or 12.5, copy the cells of the "
                 "readings"),
    ("0.6 m\t1.9 m\nx\tx", "received no cell that can be taken as a reading, expected readings such as 31 or 12.5, "
                           "correct the cells"),
    ("-5\t3\n2\t\u22121,5", "received '-5' at row 1, column 1; '\u22121,5' at row 2, column 2, expected "
                            "readings of 0 or "
                            "more, correct them, or leave a cell blank where there is no reading"),
    ("PK\x03\x00", "received 'the pasted block', which is not text, expected a CSV or XLSX file or a pasted "
                   "table, save "
                   "the table as CSV or XLSX"),
    ("<html><table>", "received a web page or XML, expected a CSV or XLSX file or a pasted table, save the "
                      "table as CSV or "
                      "XLSX"),
    ("1" * 2_000_001, "received 2,000,001 letters, expected at most 2,000,000 (2 MB), paste only the table "
                      "of readings"),
    ("1\t2\n" * 501, "received 501 rows and 2 columns of readings, expected at most 500 rows and 500 columns, send one "
                     "zone's readings"),
    ("\t".join(["1"] * 501), "received 1 row and 501 columns, expected at most 2500 rows and 500 columns, "
                             "200,000 cells in all, send only the "
                             "table of readings"),
    ("\t".join(["5"] * 50) + ("\n" + "\t".join(["5"] * 50)) * 40, "received 2,050 cans, expected at most "
                                                                  "2000, send one "
                                                                   "zone's readings"),
    ("5\n" * 2501, "received 2,501 rows and 1 column, expected at most 2500 rows and 500 columns, "
                   "200,000 cells in all, send only the table of "
                   "readings"),
    ("5 " * 40_001, "received about 40,001 cells, expected the readings of at most 2000 cans, send only the table of "
                    "readings"),
    ("5\t" + "a" * 140_000, "received a cell of more than 100,000 letters, expected a table of readings, "
                            "paste only the "
                            "cells of the readings"),
    ("x,y,catch\n?,1,31", "received a list of cans without one that has a place and a number, expected x, y "
                          "and a reading "
                          "such as 0.6 m, 1.2 m, 31, correct the list"),
]
ZIP_OF_ZEROS = packed({"xl/workbook.xml": b"<a/>", "xl/worksheets/sheet1.xml": bytes(31_000_000)})
WITH_ENTITIES = packed({"xl/workbook.xml": b'<!DOCTYPE a [<!ENTITY b "bb">]><a>&b;</a>'})
SAVE = ", expected a CSV or XLSX file, save it as XLSX or CSV"
AGAIN = (", which cannot be read as a workbook, expected a CSV or XLSX file, open it in a spreadsheet "
         "program and save it again")
BAD_FILES = [
    (b"", "a.csv", "received 'a.csv', which is empty, expected a table of readings, save the file again"),
    (b"\x89PNG\r\n\x1a\n\x00\x00", "a.png", "received 'a.png', which is not text, expected a CSV or XLSX "
                                            "file or a pasted "
                                            "table, save the table as CSV or XLSX"),
    (b"1" * 2_000_001, "a.csv", "received 'a.csv' of 2.0 MB, expected at most 2 MB of text, send only the "
                                "table of readings"),
    (b"PK\x03\x04" + bytes(5_000_000), "a.xlsx", "received 'a.xlsx' of 5.0 MB, expected a workbook of at "
                                                 "most 5 MB, send "
                                                 "only the sheet of readings"),
    (OLD, "a.xls", "received 'a.xls', which is an old workbook (XLS)" + SAVE),
    (OLD + "EncryptedPackage".encode("utf-16-le"), "a.xlsx", "received 'a.xlsx', which is protected by a "
                                                             "password, expected "
     "a workbook that opens without one, save a copy without the password, or save it as CSV"),
    (packed({"content.xml": b"<a/>", "mimetype": b"x"}), "a.ods", "received 'a.ods', which is an "
                                                                  "OpenDocument file" + SAVE),
    (packed({"xl/workbook.bin": b"x"}), "a.xlsb", "received 'a.xlsb', which is a binary workbook" + SAVE),
    (packed({"word.txt": b"x"}), "a.zip", "received 'a.zip'" + AGAIN),
    (packed({"xl/workbook.xml": b"<a/>"}), "a.xlsx", "received 'a.xlsx'" + AGAIN),
    (WITH_ENTITIES, "a.xlsx", "received 'a.xlsx'" + AGAIN),
    (b"PK\x03\x04abc", "a.xlsx", "received 'a.xlsx'" + AGAIN),
    (b"31,28", "a.xlsx", "received 'a.xlsx'" + AGAIN),
    (ZIP_OF_ZEROS, "a.xlsx", "received 'a.xlsx', which would unpack to 31 MB in 2 parts, expected at most "
                             "30 MB in 2000 "
                             "parts, send only the sheet of readings"),
    (book([]), "a.xlsx", "received 'a.xlsx' whose sheet 'Catch' is empty, expected a table of readings, fill it in"),
    (book([], sheets={"Later": [[1]]}), "a.xlsx", "received 'a.xlsx' whose sheet 'Catch' is empty, not "
                                                  "'Later', expected a "
                                                  "table of readings, choose the sheet with the readings"),
    (book([[31, -2]]), "a.xlsx", "received '-2' at row 1, column 2 (cell B1), expected readings of 0 or "
                                 "more, correct them, "
                                 "or leave a cell blank where there is no reading"),
]


@pytest.mark.parametrize("text, message", BAD_TEXTS)
def test_texts_that_are_refused(text, message):
    with pytest.raises(GridError) as caught:
        read_text(text)
    assert str(caught.value) == message


@pytest.mark.parametrize("data, name, message", BAD_FILES)
def test_files_that_are_refused(data, name, message):
    with pytest.raises(GridError) as caught:
        read_file(data, name)
    assert str(caught.value) == message


def test_a_member_that_needs_a_password_is_refused():
    data = bytearray(packed({"xl/workbook.xml": b"<a/>"}))
    data[data.rindex(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(GridError, match="protected by a password"):
        read_file(bytes(data), "a.xlsx")


def test_arguments_that_are_refused():
    for wrong in ({"default_unit": "furlong"}, {"default_unit": "m"}):
        with pytest.raises(GridError, match="expected mL, L, fl oz, mm, cm, in or g, use one of these"):
            read_text("31", **wrong)
    with pytest.raises(GridError, match="received the decimal mark ';', expected . or ,, use one of these"):
        read_text("31", {"decimal": ";"})
    with pytest.raises(GridError, match="received 'bytes', expected text, paste the table as text"):
        read_text(b"31")


# ---- into a record ----

def test_to_cans():
    understood = read_text("mL\t0.6 m\t1.9 m\n1.2 m\t31\t12.0\n3.6 m\tx\t1/2")
    cans = to_cans(understood, opening="84 mm")
    grid = cans.pop("grid")
    assert cans == {"reads": "volume", "unit": "mL", "opening": "84 mm", "across": ["0.6 m", "1.9 m"],
                    "along": ["1.2 m", "3.6 m"]}
    assert [type(value) for value in grid[0]] == [int, float] and same(grid, [[31, 12], [NAN, 0.5]])
    assert type(to_cans(read_text("1,200\t13.5"))["grid"][0][0]) is int
    assert to_cans(read_text("31\t28")) == {"grid": [[31, 28]]}
    assert to_cans(read_text("31\t28"), unit="ml") == {"reads": "volume", "unit": "mL", "grid": [[31, 28]]}
    assert to_cans(read_text("31\t28"), reads="depth") == {"reads": "depth", "grid": [[31, 28]]}


@pytest.mark.parametrize("more, message", [
    ({"reads": "depth"}, "received readings of depth in mL, expected mm, cm or in, correct the unit or what was read"),
    ({"reads": "weight"}, "received readings of weight in mL, expected g, correct the unit or what was read"),
    ({"reads": "rain"}, "received reads 'rain', expected volume, depth or weight, use one of these"),
    ({"unit": "kPa"}, "received the unit 'kPa', expected mL, L, fl oz, mm, cm, in or g, use one of these"),
    ({"opening": "84"}, "received '84' without a unit, expected a length in m, cm, mm, ft or in, add the unit, such as "
                        "\"84 m\""),
])
def test_to_cans_refuses(more, message):
    with pytest.raises(GridError) as caught:
        to_cans(read_text("31 mL\t28 mL"), **more)
    assert str(caught.value) == message


def test_what_is_said_fits_80_columns():
    wide = read_text("\n".join("\t".join(["12.25", "abc"] * 30) for _ in range(20)))
    lines = wide.says.split("\n")
    assert max(map(len, lines)) <= 80
    assert lines[0] == "20 rows of 60 cans: 600 readings, unit not known."
    assert lines[-1] == "… and 12 more rows"
    small = read_text("mL\t0.6 m\t1.9 m\n1.2 m\t31\tx").says.split("\n")
    assert small[0] == "1 row of 2 cans: 1 reading, in mL (volume)."
    assert small[-2:] == ["       0.6 m  1.9 m", "1.2 m     31      -"]
    assert read_text("x,y,mL\n1 m,2 m,31").says.endswith("  x    y  catch\n1 m  2 m     31")


# ---- properties ----

ALL_READINGS = dict.fromkeys(EDGES, "reading")
READING = st.one_of(st.none(), st.integers(0, 900), st.decimals(0, 900, places=1), st.decimals(0, 90, places=2))
GRIDS = st.integers(1, 6).flatmap(lambda width: st.lists(st.lists(READING, min_size=width, max_size=width), min_size=1,
                                                         max_size=7))
FEW = settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])


def written(grid, separator, point, blank):
    return "\n".join(separator.join(blank if value is None else str(value).replace(".", point) for value in row)
                     for row in grid)


def rises(values):
    return None not in values and all(a < b for a, b in zip(values, values[1:], strict=False))


def plain(grid):
    """Whether a bare grid can be told from its surroundings: no blank edge, no blank corner before rising numbers."""
    edges = [grid[0], grid[-1], [row[0] for row in grid], [row[-1] for row in grid]]
    headed = grid[0][0] is None and rises(grid[0][1:]) and rises([row[0] for row in grid[1:]])
    return all(any(value is not None for value in edge) for edge in edges) and not headed


def pairs_of_digits(grid):
    """Whether every second column could be the decimals of the one before."""
    whole = all(value is None or str(value).isdigit() for row in grid for value in row)
    return whole and len(grid[0]) % 2 == 0 and all(
        value is None or len(str(value)) == 1 for row in grid for value in row[1::2])


@FEW
@given(GRIDS, st.sampled_from(["\t", ";", "|", ",", " ", "   "]), st.sampled_from(".,"), st.sampled_from(["", "x",
    "-", "n/a"]))
def test_any_grid_is_read_back(grid, separator, point, blank):
    assume(plain(grid))
    assume(point == "." or separator != "," and len(grid[0]) > 1)
    assume(separator != "," or not pairs_of_digits(grid))
    blank = blank or ("x" if separator.isspace() and separator != "\t" or len(grid[0]) == 1 else "")
    # outer bars are a frame, and a blank first and last column look like one
    assume(separator != "|" or blank)
    expected = [[None if value is None else float(value) for value in row] for row in grid]
    understood = read_text(written(grid, separator, point, blank), ALL_READINGS)
    assert same(understood.readings, expected)
    assert understood.across is None and understood.along is None and not understood.rows_differ
    unanswered = read_text(written(grid, separator, point, blank))  # then it is the same, or doubted
    assert same(unanswered.readings, expected) or any(doubt.asks in EDGES for doubt in unanswered.doubts)


@FEW
@example([[None, 0, 1, 1]], "\t", "m")
@given(GRIDS, st.sampled_from(["\t", ";", ","]), st.sampled_from(["m", "ft"]))
def test_any_grid_with_distances_is_read_back(grid, separator, unit):
    assume(any(value is not None for row in grid for value in row))
    across = [f"{at * 1.3 + 0.6:.1f} {unit}" for at in range(len(grid[0]))]
    along = [f"{at * 2.4 + 1.2:.1f} {unit}" for at in range(len(grid))]
    lines = written(grid, separator, ".", "").split("\n")
    text = "\n".join([separator.join(["", *across])] + [y + separator + line for y, line in zip(along, lines,
        strict=True)])
    expected = [[None if value is None else float(value) for value in row] for row in grid]
    understood = read_text(text, {"last_row": "reading", "last_column": "reading"}, default_unit="mL")
    assert understood.across == tuple(across) and understood.along == tuple(along) and understood.unit == "mL"
    assert same(to_cans(understood)["grid"], expected)
    unanswered = read_text(text, default_unit="mL")  # then it is the same, or doubted: 1, 2, 3 may hold a sum
    assert same(unanswered.readings, expected) and unanswered.across == tuple(across) or any(
        doubt.asks in ("last_row", "last_column") for doubt in unanswered.doubts)


@settings(FEW, max_examples=60)
@given(GRIDS)
def test_csv_and_workbook_agree(grid):
    assume(plain(grid) and len(grid[0]) > 1 and not pairs_of_digits(grid))
    csv = read_file(written(grid, ",", ".", "").encode(), "a.csv")
    numbers = [[float(value) if isinstance(value, decimal.Decimal) else value for value in row] for row in grid]
    for rows in (numbers, [[None if value is None else str(value) for value in row] for row in grid]):
        sheet = read_file(book(rows), "a.xlsx")
        assert same(csv.readings, sheet.readings) and csv.rows_differ == sheet.rows_differ


ODD = st.sampled_from(["", "", "x", "31", "28.5", "12,5", "0", "1 m", "0.6 m", "2.5 ft", "7 mL", "1,200", "mean",
    "left", "Row",
                       "y (m)", "zzq", "qqz", "3/0", "5%", "1", "2", "3", "catch (mL)", "x", "y", "-0"])
TABLES = st.lists(st.lists(ODD, min_size=2, max_size=4), min_size=1, max_size=5)


@settings(FEW, max_examples=1500)
@given(TABLES)
def test_no_cell_is_lost_in_silence(table):
    text = "\n".join("\t".join(row) for row in table)
    try:
        understood = read_text(text)
    except GridError as error:
        assert str(error).startswith("received ") and ", expected " in str(error)
        return
    assert isinstance(understood, Understood) and understood.says
    to_cans(understood)
    said = [*understood.notes, *understood.remarks, *(doubt.says for doubt in understood.doubts)]
    heard = " ".join([*said, *(understood.across or ()), *(understood.along or ())])
    heard += " ".join(part for point in understood.points or () for part in point[:2])
    kept = [cell for row in understood.texts for cell in row]
    for cell in {cell for row in table for cell in row if cell}:
        number = sum(row.count(cell) for row in table)
        assert kept.count(cell) == number or cell.split(" (")[0] in heard or cell.replace(",", "") in heard
    for row, cells in zip(understood.readings, understood.texts, strict=True):
        for value, cell in zip(row, cells, strict=True):
            if math.isnan(value) and cell.strip():
                assert cell in heard
            if value == 0:
                assert cell in ("0", "-0")


@settings(FEW, max_examples=400)
@given(st.text(alphabet="0123456789.,;|\t\n \"'-xm()\\/\u00a0", max_size=60))
def test_any_text_is_understood_or_refused(text):
    try:
        assert read_text(text).says
    except GridError as error:
        assert str(error).startswith("received ")


def test_a_spoilt_workbook_is_understood_or_refused():
    good, chance = book([["mL", "0.6 m"], ["1 m", 31], ["2 m", "x"]]), random.Random(5)
    members = unpacked(good)
    for _ in range(150):
        name = chance.choice(list(members))
        spoilt = bytearray(members[name])
        for _ in range(chance.randint(1, 5)):
            spoilt[chance.randrange(len(spoilt))] = chance.randrange(32, 127)
        spoilt_file = bytearray(good)
        spoilt_file[chance.randrange(len(good))] = chance.randrange(256)
        for data in (packed(members | {name: bytes(spoilt)}), bytes(spoilt_file)):
            try:
                assert read_file(data, "a.xlsx").says
            except GridError as error:
                assert str(error).startswith("received ")


@pytest.mark.parametrize("text", [
    "1" + " " * 1_900_000 + "!", "," * 1_000_000, "((" * 500_000, '"' * 1_000_001, "1,1," * 300_000,
        "\n" * 1_900_000 + "1",
    "1 " * 39_000, ("1," * 499 + "1\n") * 60, "5\t" + "1,1" * 30_000, "1\t" + "1 " * 20_000,
    ("\t" * 499 + "\n") * 2499 + "1", ("\t" * 79 + "\n") * 2499 + "1", ("word\t" * 15 + "1\n") * 2490,
    ("1,5," * 15 + "1\n") * 150, "x,y,mL\n" + "1,1,1\n" * 2490, ("1.234 mL\t" * 20 + "1\n") * 100,
    ("12\t" * 39 + "12\n") * 50])
def test_hostile_texts_are_quick(text):
    began = time.process_time()
    try:
        read_text(text)
    except GridError:
        pass
    assert time.process_time() - began < 2
