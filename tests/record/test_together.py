"""What stops a record where only several keys together show it."""

import pytest

from ..record_texts import LINE, NO_GRID, PARTS, cans, more, said, text_of

COUNTED = 'unit = "mL"'
POINTS_OF_FOUR = "points = [" + ", ".join(f'{{ x = "{n} m", y = "1 m", catch = 3{n} }}' for n in range(1, 5)) + "]\n"
TOGETHER = [
    (cans((COUNTED, 'unit = "mm"')), "9: cans.unit: received unit = 'mm' with reads = 'volume', expected mL or L or fl "
     "oz, correct one of the two"),
    (cans(more='opening = "84 mm"\n'), "10: cans.opening_area: received both opening and opening_area, expected one "
     "of them, take one out"),
    (cans(('opening_area = "100 cm2"\n', "")), "7: cans.opening: received nothing, expected the diameter of the cans' "
     'opening, such as "84 mm", measure across the rim and add it (or opening_area)'),
    (cans(('"volume"', '"weight"'), (COUNTED, 'unit = "g"')), "7: cans.tare: received nothing, expected the weight of "
     'an empty can, such as "12 g", weigh one and add it'),
    (cans(('"volume"', '"weight"'), (COUNTED, 'unit = "g"'), more='tare = "12 g"\n'), "14: cans.tare: received a "
     "reading of 10 g under the tare of 12 g, expected no can lighter than an empty one, correct the tare or the "
     "reading"),
    (cans(NO_GRID), "7: cans.grid: received nothing, expected the readings as grid, rows or points, add one of them"),
    (cans(more=POINTS_OF_FOUR), "14: cans.points: received grid and points, expected the readings in one of grid, "
     "rows or points, keep one and take the others out"),
    (cans(NO_GRID, more=POINTS_OF_FOUR + 'along = ["1 m"]\n'), "12: cans.along: received along with points, expected "
     "along only with grid, take it out"),
    (cans(('across = ["1 m", "3 m", "5 m"]\n', "")), "7: cans.across: received nothing, expected x of each column, "
     'such as ["0.6 m", "1.9 m"], add it'),
    (cans(("[20, 30, 40]", "[20, 30]")), "13: cans.grid[2]: received 2 readings in row 2, expected 3, one for each "
     "place in across, add what is missing; nan for no reading"),
    (cans(("grid = [[10, 20, 30], [20, 30, 40],", "grid = [\n[10, 20, 30],\n[20, 30, 40, 50],")), "15: cans.grid[2]: "
     "received 4 readings in row 2, expected 3, one for each place in across, add what is missing; nan for no reading"),
    (cans((", [40, 50, 60]", "")), "13: cans.grid: received 3 rows, expected 4, one for each place in along, add what "
     "is missing; nan for no reading"),
    (cans(NO_GRID, more='[[cans.rows]]\ny = "1 m"\nx = ["1 m", "2 m"]\ncatch = [1, 2, 3]\n'), "14: "
     "cans.rows[1].catch: received 3 readings, expected 2, one for each x, add what is missing; nan for no reading"),
    (cans(("[20, 30, 40], [30, 40, 50], [40, 50, 60]", "[nan, nan, nan], [nan, nan, nan], [nan, nan, nan]")), "13: "
     "cans.grid: received 3 usable cans, expected at least four, add readings or bring back cans that were set aside"),
    (cans(more="set_aside = [" + ", ".join(f'{{ row = {n % 4 + 1}, column = {n // 4 + 1}, why = "w" }}'
                                           for n in range(11)) + "]\n"),
     "13: cans.grid: received 1 usable can, expected at least four, add readings or bring back cans that were set "
     "aside"),
    (text_of(floor=PARTS["floor"] + 'beds = [{ from = "0.5 m", to = "1.5 m", start = "3 m", end = "8 m" }]\n'),
     "14: cans.grid: received 2 usable cans in the beds, expected at least four, add readings or bring back cans that "
     "were set aside"),
    (cans(more="weights = [[1, 1, 1], [0, 0, 0], [0, 0, 0], [0, 0, 0]]\n"), "14: cans.weights: received 3 weights "
     "above 0, expected at least four, correct the weights"),
    (cans(("[10, 20, 30]", "[0, 0, 0]"), ("[20, 30, 40]", "[0, 5, 5]"),
          more="weights = [[1, 1, 1], [1, 0, 0], [0, 0, 0], [0, 0, 0]]\n"), "13: cans.grid: received 0 in every can, "
     "expected at least one can that caught water, check that the zone ran and the unit is right"),
    (cans(("[[10, 20, 30], [20, 30, 40], [30, 40, 50], [40, 50, 60]]", "[" + ", ".join(["[0, 0, 0.0]"] * 4) + "]")),
     "13: cans.grid: received 0 in every can, expected at least one can that caught water, check that the zone ran "
     "and the unit is right"),
    (cans(more="weights = [1, 2, 3]\n"), "14: cans.weights: received weights in another shape, expected one number "
     "for each reading, in the shape of the readings, correct the weights"),
    (cans(more="weights = [[1, 2, 3], [1, 2, 3], [1, 2, 3], [1, 2]]\n"), "14: cans.weights: received weights in "
     "another shape, expected one number for each reading, in the shape of the readings, correct the weights"),
    (cans(more="weights = [[1, 2, 3], [1, nan, 3], [1, 2, 3], [1, 2, 3]]\n"), "14: cans.weights: received 'nan', "
     "expected a number from 0 to 1,000,000, correct it"),
    (cans(more='weights = "even"\n'), "14: cans.weights: received 'even', expected \"equal\", \"nearest area\" or "
     "numbers in the shape of the readings, correct it"),
    (cans(more='set_aside = [{ row = 5, column = 1, why = "w" }]\n'), "14: cans.set_aside[1]: received '{'row': 5, "
     "'column': 1}', expected row = 1 to 4 and a column of that row, name a can of this record"),
    (cans(more='set_aside = [{ point = 1, why = "w" }]\n'), "14: cans.set_aside[1]: received '{'point': 1}', expected "
     "row = 1 to 4 and a column of that row, name a can of this record"),
    (cans(NO_GRID, more=POINTS_OF_FOUR + 'set_aside = [{ point = 5, why = "w" }]\n'), "12: cans.set_aside[1]: "
     "received '{'point': 5}', expected point = 1 to 4, name a can of this record"),
    (cans(('"5 m"', '"6.1 m"')), None),
    (cans(more='[cans.evaporation]\nstart = 50\nend = [50, 51]\ntime = "30 min"\n'), "16: cans.evaporation.end: "
     "received control cans that gained water (50 to 50.5 mL), expected a loss, check whether spray or rain reached "
     "them, or take the table out"),
    (cans(more='[cans.evaporation]\nstart = 50\nend = [10]\ntime = "30 min"\n'), "16: cans.evaporation.end: received "
     "a loss of 40 mL with a mean catch of 35 mL, expected a loss smaller than the catch, check the readings and "
     "times"),
    (cans(more='[cans.evaporation]\nstart = nan\nend = [10]\ntime = "30 min"\n'), "14: cans.evaporation: received "
     "nan, expected a reading of every control can, write the readings, or take the table out"),
    (more(LINE + '[[lines]]\nname = "b"\nx = "2 m"\n'), "14: run.lines: received nothing with 2 lines, expected "
     '"together" or "in turn", add it'),
    (more('lines = "together"\n' + LINE + LINE), "21: lines[2].name: received 'a' twice, expected a name of its own "
     "for every line, rename one"),
    (more(LINE + 'first = "1 m"\nheads_at = ["1 m"]\n'), "20: lines[1].heads_at: received heads_at beside first, "
     "spacing or count, expected one way to place the heads, take one out"),
]


@pytest.mark.parametrize(("text", "says"), TOGETHER)
def test_what_several_keys_show_together(text, says):
    if says is None:  # a column off the floor: one line for all of its cans
        assert said(text) == [
            "f.toml:11: cans.across[3]: received 4 cans at x = 6.10 m, expected a place on the floor of 6 m by 12 m, "
            "correct the place, the stagger or the floor"]
    else:
        assert said(text) == [f"f.toml:{says}"]


ON_FLOOR = "expected a place on the floor"
PLACES = [
    (cans(more='stagger = "1.2 m"\n'), "11: cans.across[1]: received 2 cans at x = -0.20 m"),
    (cans(NO_GRID, more='[[cans.rows]]\ny = "12.5 m"\nx = ["1 m", "2 m", "3 m", "4 m"]\ncatch = [1, 2, 3, 4]\n'),
     "12: cans.rows[1].y: received 4 cans at y = 12.50 m"),
    (cans(NO_GRID, more='[[cans.rows]]\ny = "1 m"\nx = ["1 m", "2 m", "3 m", "7 m"]\ncatch = [1, 2, 3, 4]\n'),
     "13: cans.rows[1].x[4]: received a can at x = 7.00 m, y = 1.00 m"),
    (cans(('"10 m"', '"13 m"')), "12: cans.along[4]: received 3 cans at y = 13.00 m"),
    (cans(NO_GRID, more=POINTS_OF_FOUR.replace('"4 m"', '"7 m"')),
     "11: cans.points[4]: received a can at x = 7.00 m, y = 1.00 m"),
    (more('[[lines]]\nname = "a"\nx = "6.1 m"\n'), f"18: lines[1].x: received '6.1 m', {ON_FLOOR}, x at most 6 m, "
     "correct the place or the floor"),
    (more(LINE + 'heads_at = ["1 m",\n"13 m"]\n'), f"20: lines[1].heads_at[2]: received '13 m', {ON_FLOOR}, y at most "
     "12 m, correct the place or the floor"),
    (more(LINE + 'first = "1 m"\nspacing = "3 m"\ncount = 5\n'), "21: lines[1].count: received 5 heads, the last at "
     "13.00 m from the inlet end, expected heads on a floor 12 m long, correct first, spacing or count"),
    (text_of(floor=PARTS["floor"] + 'hangs_at = ["2 m", "20.1 ft"]\n'), f"7: floor.hangs_at[2]: received '20.1 ft', "
     f"{ON_FLOOR}, x at most 6 m, correct the place or the floor"),
    (text_of(floor=PARTS["floor"] + 'beds = [{ from = "0 m", to = "7 m" }]\n'), f"7: floor.beds[1].to: received '7 m', "
     f"{ON_FLOOR}, x at most 6 m, correct the place or the floor"),
    (text_of(floor=PARTS["floor"] + 'beds = [{ from = "0 m", to = "6 m", end = "13 m" }]\n'), "7: floor.beds[1].end: "
     f"received '13 m', {ON_FLOOR}, y at most 12 m, correct the place or the floor"),
    (text_of(floor=PARTS["floor"] + 'beds = [{ from = "6 m", to = "0 m" }]\n'), "7: floor.beds[1]: received a bed "
     "whose end is not beyond its beginning, expected from < to and start < end, correct the bed"),
    (text_of(floor=PARTS["floor"] + 'beds = [\n{ from = "0 m", to = "3 m" },\n{ from = "2.9 m", to = "6 m" }]\n'),
     "9: floor.beds[2]: received a bed that overlaps bed 1, expected beds that share no ground, which would be counted "
     "twice, correct one of the two"),
    (more('[[patches]]\nx = ["0 m", "7 m"]\ny = ["0 m", "1 m"]\n'), f"17: patches[1].x[2]: received '7 m', {ON_FLOOR}, "
     "x at most 6 m, correct the place or the floor"),
    (more(LINE.replace('"1 m"', '"1001 m"')), "18: lines[1].x: received '1001 m', expected 0 m to 1000 m, check the "
     "number and its unit"),
]


@pytest.mark.parametrize(("text", "says"), PLACES, ids=[item[1].split(":")[1].strip() for item in PLACES])
def test_places_off_the_floor(text, says):
    found = said(text)
    assert found[0].startswith(f"f.toml:{says}")
    assert all(": cans." in line for line in found[1:])  # another column, or too few in the beds
    assert len(found) <= 2


def test_places_in_the_system_in_which_the_floor_was_written():
    feet = text_of(floor='[floor]\nwidth = "24\'"\nlength = "60 ft"\n').replace('"5 m"', '"30 ft"')
    assert said(feet) == ["f.toml:11: cans.across[3]: received 4 cans at x = 30 ft, expected a place on the floor of "
                          "24' by 60 ft, correct the place, the stagger or the floor"]
    line = LINE + 'first = "3 ft"\nspacing = "2.5 ft"\ncount = 31\n'
    assert said(feet.replace('"30 ft"', '"9 ft"') + line) == [
        "f.toml:21: lines[1].count: received 31 heads, the last at 78 ft from the inlet end, expected heads on a floor "
        "60 ft long, correct first, spacing or count"]
    assert said(feet.replace('"30 ft"', '"9 ft"').replace('"100 cm2"', '"1 ft2"').replace('"24\'"', '"2 in"'))[0] == (
        "f.toml:5: floor.width: received '2 in', expected 7.87 in to 656 ft, check the number and its unit")


def test_points_at_one_place_across_are_one_fault():
    points = "points = [" + ", ".join(f'{{ x = "{7 if n > 3 else n} m", y = "{n} m", catch = 3{n} }}'
                                      for n in range(1, 8)) + "]\n"
    assert [line.split(", expected")[0] for line in said(cans(NO_GRID, more=points))] == [
        "f.toml:11: cans.points[4]: received 4 cans at x = 7.00 m"]


NO_UNIT = "without a unit, expected a"


@pytest.mark.parametrize(("floor", "opening", "wanted"), [
    (('"24"', '"60 ft"'), '"84"', ["24 ft", "84 mm", "45 min"]),
    (('"24"', "\"60'\""), '"3.25"', ["24 ft", "3.25 in", "45 min"]),
    (('"7"', '"20 m"'), '"84"', ["7 m", "84 mm", "45 min"]),
])
def test_a_bare_number_is_answered_in_the_units_of_the_record(floor, opening, wanted):
    text = text_of(floor=f"[floor]\nwidth = {floor[0]}\nlength = {floor[1]}\n", run='[run]\nduration = "45"\n')
    found = said(text.replace('opening_area = "100 cm2"', f"opening = {opening}"))
    assert [line.split("such as ")[1] for line in found if NO_UNIT in line] == [f'"{item}"' for item in wanted]


def test_where_no_length_says_the_system_both_are_proposed():
    text = text_of(floor='[floor]\nwidth = "24"\nlength = 60\n').replace(" m\"", "\"").replace(
        'opening_area = "100 cm2"', 'opening = "9"')
    found = {line.split(": ")[1]: line.split("such as ")[1] for line in said(text)}
    assert found["floor.width"] == '"24 m" or "24 ft"' and found["floor.length"] == '"60 m" or "60 ft"'
    assert found["cans.opening"] == '"9 in"'  # 9 mm is no can


def test_beds_that_only_touch_are_sound():
    beds = 'beds = [{ from = "0 ft", to = "10 ft" }, { from = "10 ft", to = "6 m" }]\n'
    assert said(text_of(floor=PARTS["floor"] + beds)) == []
    beds = ('beds = [{ from = "0 m", to = "6 m", end = "5 m" }, { from = "0 m", to = "6 m", start = "5 m" }]\n')
    assert said(text_of(floor=PARTS["floor"] + beds)) == []
