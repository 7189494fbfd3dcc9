"""Many tests as a frame."""

import shutil

import evenfall
import pytest
from evenfall.record.samples import folder


def test_a_folder_is_compared_and_only_read(tmp_path):
    records = tmp_path / "records"
    records.mkdir()
    for name in ("blocked-head", "commissioning", "staggered-rows"):
        shutil.copy(folder() / f"{name}.toml", records)
    frame = evenfall.members(records)
    alike = frame[frame["unlike the others"] == ""]["DUlq whole floor [%]"]
    assert len(frame) == 3 and len(alike) == 2 and alike.is_monotonic_increasing
    assert {"low [%]", "high [%]", "DUlq at the cans [%]", "likeliest cause"} <= set(frame)
    assert frame.attrs["left_out"] == [] and len(list(records.iterdir())) == 3
    again = evenfall.members(records, "cu")
    assert set(again["tunnel"]) == set(frame["tunnel"]) and "CU whole floor [%]" in again


def test_a_file_with_faults_is_told_and_the_others_compared(tmp_path):
    shutil.copy(folder() / "blocked-head.toml", tmp_path)
    (tmp_path / "broken.toml").write_text("record = 1\n", "utf-8")
    with pytest.warns(UserWarning, match="faults in files that were left out, see .*broken.toml:1"):
        frame = evenfall.members(tmp_path)
    assert len(frame) == 1 and all(line.startswith("broken.toml:") for line in frame.attrs["left_out"])


def test_what_is_no_store_is_refused():
    with pytest.raises(ValueError, match="received 'no-such', which is neither a folder nor a file"):
        evenfall.members("no-such")
    with pytest.raises(ValueError, match="received the figure 'dulq'"):
        evenfall.members(folder(), "dulq")
