"""Records made by a program: of a file, a text, a grid, a frame, and with simulated readings."""

import evenfall
import numpy as np
import pandas as pd
import pytest
from evenfall.record.file import plain_text, record_text
from evenfall.record.model import to_plain
from evenfall.record.samples import folder

from ..conftest import GRID

DEPTHS = [[1, 2, 3], [2, 3, 4], [3, 4, 5], [4, 5, 6]]
PLACES = {"across": [1, 3, 5], "along": [1, 4, 7, 10], "width": 6, "length": 12, "minutes": 30}


def figures(record):
    return evenfall.assess(record).to_dict()


def test_a_path_and_a_text_are_read_alike(tmp_path):
    file = tmp_path / "one.toml"
    file.write_text(GRID, "utf-8")
    assert evenfall.read(file) == evenfall.read(str(file)) == evenfall.read(GRID)
    with pytest.raises(ValueError, match="received a file that cannot be read"):
        evenfall.read("no-such.toml")
    with pytest.raises(ValueError, match="received an empty|received nothing"):
        evenfall.read("")


def test_a_grid_gives_what_its_file_gives():
    made, written = figures(evenfall.from_grid(DEPTHS, **PLACES)), figures(evenfall.read(GRID))
    for part in ("catch", "at_the_cans", "dry_spots"):  # the floor's estimate knows how finely mL were read
        assert made[part] == written[part], part


def test_sizes_may_be_texts_with_their_unit():
    record = evenfall.from_grid(DEPTHS, **{**PLACES, "width": "20 ft", "minutes": "0.5 h"})
    assert record.floor.width.si == pytest.approx(6.096)
    assert record.run.duration.to("min") == pytest.approx(30)


def test_further_tables_are_those_of_a_record():
    record = evenfall.from_grid(
        DEPTHS, **PLACES, test={"id": "made-1"}, run={"wind": "0.2 m/s"}, heads={"flow": "40 L/h"},
        lines=[{"name": "one", "x": "3 m", "first": "1 m", "spacing": "1 m", "count": 11}])
    assert (record.test.id, record.test.title) == ("made-1", "A grid of cans")
    assert record.run.wind.text == "0.2 m/s" and record.lines[0].count == 11
    with pytest.raises(ValueError, match="received the unknown key 'widht'"):
        evenfall.from_grid(DEPTHS, **PLACES, floor={"widht": "3 m"})


def test_a_grid_that_does_not_fit_its_places_is_refused():
    with pytest.raises(ValueError, match=r"received depths of shape \(3, 4\) for 4 places along and 3 across, expected "
                                         r"shape \(4, 3\)"):
        evenfall.from_grid(np.transpose(DEPTHS), **PLACES)
    frame = pd.DataFrame(DEPTHS[1:], columns=DEPTHS[0])  # as a reader takes the first row for a header
    with pytest.raises(ValueError, match="a row that was read as a header, is a usual reason"):
        evenfall.from_grid(frame, **PLACES)
    assert figures(evenfall.from_grid(pd.DataFrame(DEPTHS), **PLACES))["at_the_cans"]["cu"] == figures(
        evenfall.from_grid(DEPTHS, **PLACES))["at_the_cans"]["cu"]


@pytest.mark.parametrize(("change", "says"), [
    ({"width": None}, "received None, expected a number of m or a text with its unit"),
    ({"length": float("nan")}, "received nan, expected a number of m"),
    ({"minutes": True}, "received True, expected a number of min"),
    ({"width": 4}, "cans.across"),
])
def test_sizes_that_are_none_are_refused(change, says):
    with pytest.raises(ValueError, match=says):
        evenfall.from_grid(DEPTHS, **{**PLACES, **change})


def test_a_missing_reading_is_asked_for():
    holes = np.array(DEPTHS, float)
    holes[1, 1] = np.nan
    with pytest.raises(ValueError, match="received 1 depths that are nan"):
        evenfall.from_grid(holes, **PLACES)
    assert figures(evenfall.from_grid(holes, **PLACES, allow_nan=True))["catch"]["missing"] == 1


def test_a_frame_with_a_can_a_row():
    x, y = np.meshgrid(PLACES["across"], PLACES["along"])
    frame = pd.DataFrame({"across": x.ravel(), "along": y.ravel(), "ml": 10 * np.ravel(DEPTHS)})
    size = {key: PLACES[key] for key in ("width", "length", "minutes")}
    record = evenfall.from_frame(frame, x="across", y="along", catch="ml", unit="mL", opening="100 cm2", **size)
    expected = figures(evenfall.read(GRID))
    assert figures(record)["at_the_cans"] == expected["at_the_cans"]
    assert figures(record)["catch"] == expected["catch"]
    with pytest.raises(ValueError, match="received a frame without the column 'catch', expected the readings in it, "
                                         "name one of 'across', 'along', 'ml'"):
        evenfall.from_frame(frame, x="across", y="along", **size)
    twice = pd.concat([frame, frame[["ml"]]], axis=1)
    with pytest.raises(ValueError, match="received a frame with the column 'ml' 2 times"):
        evenfall.from_frame(twice, x="across", y="along", catch="ml", unit="mL", opening="100 cm2", **size)
    with pytest.raises(ValueError, match="cans.opening"):
        evenfall.from_frame(frame, x="across", y="along", catch="ml", unit="mL", **size)
    columns = {name: list(frame[name]) for name in frame}
    assert evenfall.from_frame(columns, x="across", y="along", catch="ml", unit="mL", opening="100 cm2",
                               **size) == record


@pytest.mark.parametrize("name", ["commissioning", "staggered-rows", "blocked-head"])
def test_a_simulated_test_is_a_test(name):
    record = evenfall.read(folder() / f"{name}.toml")
    one, same, other = (evenfall.simulate(record, seed=seed) for seed in (1, 1, 2))
    assert record_text(one) == record_text(same) != record_text(other)
    assert one.test.title.endswith("(simulated, seed 1)") and one.test.id is None
    plain = evenfall.assess(one).to_dict()
    ours = evenfall.assess(record).to_dict()
    assert plain["catch"]["cans"] == ours["catch"]["cans"]
    assert plain["whole_floor"]["how"] == "heads" and plain["at_the_cans"]["cu"] > 40
    # The water is what the heads give: their nominal flow over the floor.
    assert 0.4 < plain["catch"]["mean_mm"] / ours["catch"]["mean_mm"] < 2.5


def test_a_test_is_simulated_before_there_are_readings():
    plain = to_plain(evenfall.read(folder() / "commissioning.toml"))
    del plain["cans"]["grid"]
    record = evenfall.read(plain_text(plain), planning=True)
    with pytest.raises(ValueError, match="cans"):
        evenfall.assess(record)  # nothing is made up where nothing was read
    assert evenfall.assess(evenfall.simulate(record, seed=4)).cu > 40


def test_what_a_simulation_lacks_is_said():
    with pytest.raises(ValueError, match="received a record without lines, expected them for a simulated test"):
        evenfall.simulate(evenfall.read(GRID))
    planned = evenfall.read('record = 1\n[test]\ntitle = "To come"\n[floor]\nwidth = "6 m"\nlength = "9 m"\n',
                            planning=True)
    with pytest.raises(ValueError, match="without lines, cans, run.duration"):
        evenfall.simulate(planned)
