"""Tables that look like readings and are more: what is proposed, what is asked, and what an answer makes of it."""

import math

import pytest
from evenfall.entry.grids.reading import GridError, read_file, read_text

from .workbooks import book

NAN = math.nan


def plain(understood):
    return [[None if math.isnan(value) else value for value in row] for row in understood.readings]


def asked(understood):
    """What is in doubt: what each doubt asks, empty where only another table settles it."""
    return [doubt.asks for doubt in understood.doubts]


def read(text, **answers):
    return read_text(text, answers, default_unit="mL")


def test_row_numbers_without_a_label():
    text = "1,17,29,27\n2,18,30,28\n3,16,28,25"
    assert asked(read(text)) == ["first_column"]
    assert plain(read(text)) == [[17, 29, 27], [18, 30, 28], [16, 28, 25]]
    assert plain(read(text, first_column="number")) == [[17, 29, 27], [18, 30, 28], [16, 28, 25]]
    assert plain(read(text, first_column="reading")) == [[1, 17, 29, 27], [2, 18, 30, 28], [3, 16, 28, 25]]
    assert asked(read(text, first_column="number")) == asked(read(text, first_column="reading")) == []


def test_column_numbers_without_a_label():
    text = "1\t2\t3\n17\t29\t27\n18\t30\t28"
    assert asked(read(text)) == ["first_row"] and plain(read(text)) == [[17, 29, 27], [18, 30, 28]]
    assert plain(read(text, first_row="reading"))[0] == [1, 2, 3]
    both = "0,1,2,3\n1,17,29,27\n2,18,30,28\n3,16,28,25"
    assert asked(read(both)) == ["first_column", "first_row"]
    assert plain(read(both)) == [[17, 29, 27], [18, 30, 28], [16, 28, 25]]


def test_numbers_at_the_end_of_the_rows():
    text = "17;29;1\n18;30;2\n16;28;3"
    assert asked(read(text)) == ["last_column"] and plain(read(text)) == [[17, 29], [18, 30], [16, 28]]
    assert plain(read(text, last_column="reading"))[2] == [16, 28, 3]


def test_distances_without_label_and_unit():
    text = "0.6,1.9,3.2\n31,28,29\n30,27,26"
    assert asked(read(text)) == ["first_row"]
    assert read(text).across == ("0.6 m", "1.9 m", "3.2 m") and plain(read(text)) == [[31, 28, 29], [30, 27, 26]]
    assert read_text(text, {"first_row": "heading"}, length_unit="ft").across == ("0.6 ft", "1.9 ft", "3.2 ft")
    assert plain(read(text, first_row="reading"))[0] == [0.6, 1.9, 3.2]


def test_a_list_of_catch_and_can():
    assert plain(read("mL,can\n31,1\n29,3\n28,2")) == [[31], [28], [29]]
    assert asked(read("mL,can\n31,1\n29,3\n28,2")) == []


def test_a_list_of_row_can_and_reading():
    understood = read("row,can,reading,note\n1,1,31,\n1,2,28,windy\n2,2,27,\n2,1,x,\n3,2,5,")
    assert plain(understood) == [[31, 28], [None, 27], [None, 5]]
    assert understood.across is None and understood.along is None and asked(understood) == []
    assert any("'note', was not used: 'windy'" in remark for remark in understood.remarks)
    twice = read("row,can,reading\n1,1,31\n1,2,28\n2,1,30\n2,2,27\n2,2,26")
    assert asked(twice) == [""] and "listed a second time, with '26'" in twice.doubts[0].says
    lost = read("row,can,reading\n1,1,31\n1,2,28\n2,1,30\n2,?,27")
    assert asked(lost) == [""] and "Line 5" in lost.doubts[0].says


@pytest.mark.parametrize("text, kept", [
    ("31,28,29\n30,27,26\n61,55,55", [[31, 28, 29], [30, 27, 26]]),
    ("31\t28\n30\t27\n30.5\t27.5", [[31, 28], [30, 27]]),
    ("31\t28\t29\n30\t27\t26\n29\t26\t26\n30\t27\t27", [[31, 28, 29], [30, 27, 26], [29, 26, 26]]),
    ("31\n28\n29\n88", [[31], [28], [29]]),
])
def test_a_last_row_of_totals_or_means(text, kept):
    assert asked(read(text)) == ["last_row"] and plain(read(text)) == kept
    assert plain(read(text, last_row="total")) == kept and asked(read(text, last_row="total")) == []
    assert len(plain(read(text, last_row="reading"))) == len(kept) + 1


def test_a_last_column_of_totals_and_the_corner_of_both():
    text = "31,28,59\n30,27,57\n61,55,116"
    assert asked(read(text)) == ["last_row", "last_column"] and plain(read(text)) == [[31, 28], [30, 27]]
    assert plain(read(text, last_row="reading", last_column="total")) == [[31, 28], [30, 27], [61, 55]]


def test_a_first_row_of_totals():
    text = "61,55,55\n31,28,29\n30,27,26"
    assert asked(read(text)) == ["first_row"] and plain(read(text)) == [[31, 28, 29], [30, 27, 26]]


@pytest.mark.parametrize("text, places", [
    ("x,y,catch\nft,ft,mL\n2,4,31\n6,4,30", [("2 ft", "4 ft"), ("6 ft", "4 ft")]),
    ("x;y;catch\nm;m;mm\n2;4;31\n6;4;30", [("2 m", "4 m"), ("6 m", "4 m")])])
def test_a_unit_row_under_the_headings_of_a_list(text, places):
    understood = read_text(text)
    assert [point[:2] for point in understood.points] == places
    assert understood.unit == ("mL" if "mL" in text else "mm") and not understood.remarks and not understood.doubts


def test_a_unit_row_under_names():
    understood = read_text("A,B,C\nL,L,L\n0.31,0.28,0.29\n0.30,0.27,0.26")
    assert understood.unit == "L" and asked(understood) == []
    understood = read_text("y (m),left,right\nm,mL,mL\n1.2,31,28\n3.6,30,27")
    assert understood.unit == "mL" and understood.along == ("1.2 m", "3.6 m")


def test_date_serials():
    text = "46464,31,28\n46471,30,27\n46485,29,26"
    assert asked(read(text)) == ["first_column"] and plain(read(text)) == [[31, 28], [30, 27], [29, 26]]
    alone = read("31,28,46464\n30,27,26")
    assert asked(alone) == [""] and "may be a date" in alone.doubts[0].says
    assert plain(alone) == [[31, 28, None], [30, 27, 26]]
    assert asked(read("46464\t46300\n45111\t44000")) == []  # then all are


def test_decimal_commas_between_comma_cells():
    text = "3,1,2,8\n2,9,3,0"
    assert asked(read(text)) == ["decimal"]
    assert plain(read(text)) == plain(read(text, decimal=".")) == [[3, 1, 2, 8], [2, 9, 3, 0]]
    assert plain(read(text, decimal=",")) == [[3.1, 2.8], [2.9, 3.0]]
    assert asked(read(text, decimal=".")) == asked(read(text, decimal=",")) == []
    assert asked(read("12,05,13,10\n11,50,12,75")) == ["decimal"]
    assert plain(read("12,05,13,10\n11,50,12,75", decimal=",")) == [[12.05, 13.1], [11.5, 12.75]]
    assert asked(read("31,28,29,30\n30,27,26,31")) == []
    with pytest.raises(GridError, match="can be put together in several ways"):
        read("31,28,29\n30,27,26", decimal=",")


def test_thousands_or_decimals():
    text = "1.234\t1.100\n1.050\t1.300"
    assert asked(read(text)) == ["decimal"]
    assert plain(read(text, decimal=".")) == [[1.234, 1.1], [1.05, 1.3]]
    assert plain(read(text, decimal=",")) == [[1234, 1100], [1050, 1300]]
    commas = "1,234\t1,100\n1,050\t1,300"
    assert set(asked(read(commas))) == {"decimal"} and plain(read(commas)) == [[None] * 2] * 2
    assert plain(read(commas, decimal=",")) == [[1.234, 1.1], [1.05, 1.3]]
    assert plain(read(commas, decimal=".")) == [[1234, 1100], [1050, 1300]]
    assert asked(read("1.234\t12.5")) == asked(read("12.125\t9")) == []
    assert asked(read("1.234\t900")) == ["decimal"]


@pytest.mark.parametrize("text", ["A,B\n31,28\n30,27\nA,B\n12,13\n11,10", "31,28\n30,27\nleft,right\n12,13\n11,10",
                                  "1 m\t2 m\n31\t28\n30\t27\n1 m\t2 m\n12\t13"])
def test_two_tables_with_headings_run_into_one(text):
    with pytest.raises(GridError, match="received two tables: line [34], .*, heads a second one, expected one, "):
        read(text)


def test_two_tables_with_a_blank_line_between():
    assert asked(read("31,28\n30,27\n\n12,13\n11,10")) == [""]
    assert "Line 3 is blank" in read("31,28\n30,27\n\n12,13\n11,10").doubts[0].says
    assert asked(read("31\t28\n\n30\t27\n\n29\t26")) == []  # every other line is blank
    sheet = read_file(book([[31, 28], [30, 27], [None, None], [12, 13], [11, 10]]), "a.xlsx", default_unit="mL")
    assert asked(sheet) == [""]
    titled = read("31,28\n30,27\nlater,\n12,13\n11,10")
    assert asked(titled) == [""] and "Line 3, 'later', stands between" in titled.doubts[0].says


def test_two_tables_side_by_side():
    assert asked(read("31\t28\t\t12\t13\n30\t27\t\t11\t10")) == [""]
    assert asked(read("1 m\t2 m\t3 m\t4 m\t5 m\n31\t28\t\t12\t13\n30\t27\t\t11\t10")) == []  # a column of cans not read


def test_errors_of_a_spreadsheet():
    inside = read("31,28,29\n#DIV/0!,27,26")
    assert asked(inside) == [""] and plain(inside) == [[31, 28, 29], [None, 27, 26]]
    assert "'#DIV/0!' is a spreadsheet's error" in inside.doubts[0].says
    edge = "31,28,#DIV/0!\n30,27,#DIV/0!"
    assert asked(read(edge)) == ["last_column"] and plain(read(edge)) == [[31, 28], [30, 27]]
    assert asked(read(edge, last_column="total")) == []
    sheet = read_file(book([[31, 28], [30, "#N/A"], [29, 27]]), "a.xlsx", default_unit="mL")
    assert asked(sheet) == [""] and plain(sheet)[1] == [30, None]


def test_one_cell_with_a_unit_does_not_turn_the_others():
    understood = read("31\t28\n3l\t27")
    assert understood.unit == "mL" and plain(understood) == [[31, 28], [3000, 27]] and asked(understood) == [""]
    assert "'3l' is in L, not in mL: it was taken as 3000 mL" in understood.doubts[0].says
    told = read_text("31\t28\n3l\t27", {"unit": "mL"})
    assert told.unit == "mL" and asked(told) == [""]
    mixed = read_text("31 mL\t28 mL\n0.03 L\t27 mL")
    assert plain(mixed) == [[31, 28], [30, 27]] and asked(mixed) == [""]
    other = read("31\t28\n3 mm\t27")
    assert plain(other) == [[31, 28], [None, 27]] and asked(other) == [""]


def test_units_are_asked_where_the_table_says_none_or_two():
    assert asked(read_text("31\t28")) == ["unit"] and read_text("31\t28", {"unit": "ml"}).unit == "mL"
    assert asked(read_text("31 mL\t28")) == ["unit"] and asked(read_text("31 mL\t28", {"unit": "mL"})) == []
    heads = "catch (mL)\tcatch (L)\n31\t28"
    assert asked(read_text(heads)) == ["unit"] and asked(read_text(heads, {"unit": "mL"})) == []
    assert asked(read("catch (mm)\n31\n28")) == ["unit"]
    assert asked(read("catch (mm)\n31\n28", unit="mm")) == []
    assert asked(read("catch (mm)\n31\n28", unit="mL")) == [""]  # what was said is not what the table says


def test_a_word_is_no_reading_but_a_spoilt_number_is_doubted():
    understood = read("31\tspilt\t29\n30\t2O\t26")
    assert plain(understood) == [[31, None, 29], [30, None, 26]]
    assert asked(understood) == [""] and "'2O'" in understood.doubts[0].says
    assert any("'spilt' is not a number; it was taken as no reading." in remark for remark in understood.remarks)


@pytest.mark.parametrize("text", [
    "31,28,29\n30,27,26", "10,20,30\n20,30,40\n30,40,50\n40,50,60", "4;1;9\n5;2;10\n6;3;11", "31\t28\n30\t27\n0\t26",
    "5\t6\t8\n28\t31\t30\n27\t29\t33", "28\t29\t31\n30\t27\t26", "31 mL\t28 mL\n30 mL\t27 mL"])
def test_plain_readings_are_not_doubted(text):
    assert asked(read(text)) == []


def test_answers_that_are_refused():
    with pytest.raises(GridError, match="received a first row of 'names', expected heading, number, total or reading"):
        read("31,28", first_row="names")
    with pytest.raises(GridError, match="received nothing but headings and totals, expected readings beside them"):
        read("31\t28", last_row="total")
