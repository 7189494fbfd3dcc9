"""Is it mended?"""

import json

import numpy as np
import pytest
from evenfall.changes.errors import ChangeError
from evenfall.changes.mended import heads_named, mended_heads
from evenfall.cli.command import main
from evenfall.record.file import parse_record, plain_text
from evenfall.record.model import to_plain
from evenfall.record.samples import folder, sample_text
from evenfall.record.site import site_of

from . import mended_table


def site(name):
    return site_of(parse_record(sample_text(name)))


def around(name, x, y, most=8):
    """The cans of a sample that stand nearest to a place, as a record of their own."""
    plain = to_plain(parse_record(sample_text(name)))
    cans = site(name).cans
    order = np.argsort(np.hypot(cans.x - x, cans.y - y))[:most]
    unit = {key: plain["cans"][key] for key in ("reads", "unit", "opening") if key in plain["cans"]}
    points = [{"x": f"{cans.x[k]:.3f} m", "y": f"{cans.y[k]:.3f} m", "catch": float(cans.readings[k])} for k in order]
    return parse_record(plain_text({**plain, "cans": {**unit, "points": points}}))


@pytest.fixture(scope="module")
def where():
    heads = site("before-repair").heads
    return {(line, number): (x, y) for line, number, x, y in zip(heads.name, heads.number.tolist(), heads.x, heads.y,
                                                              strict=True)}


def test_eight_cans_see_a_mended_head(where):
    few = around("after-repair", *where["left", 14])
    found = mended_heads(site_of(few), site("before-repair"), [("left", 14)])[0]
    assert found.answer == "mended" and found.chance > 0.9
    assert found.before.high < 0.5 < found.after.low and "mended, 9" in found.says


def test_the_same_cans_before_it_was_mended_say_still_weak(where):
    few = around("before-repair", *where["left", 14])
    found = mended_heads(site_of(few), site("before-repair"), [("left", 14)])[0]
    assert found.answer == "still weak" and found.chance < 0.1 and found.after.high < 0.6


def test_cans_elsewhere_cannot_tell(where):
    few = around("after-repair", *where["right", 2])
    found = mended_heads(site_of(few), site("before-repair"), [("left", 14)])[0]
    assert found.answer == "cannot tell" and "no can stands within its reach" in found.says
    with pytest.raises(ChangeError, match="within reach of no head that was weak"):
        mended_heads(site_of(few), site("before-repair"))


def test_what_cannot_be_asked_is_a_sentence():
    with pytest.raises(ChangeError, match="received head left:99"):
        mended_heads(site("after-repair"), site("before-repair"), [("left", 99)])
    with pytest.raises(ChangeError, match="without lines"):
        mended_heads(site("bare"), site("bare"))
    with pytest.raises(ChangeError, match="two tests of one floor"):
        mended_heads(site("after-repair"), site("commissioning"))
    with pytest.raises(ChangeError, match="such as left:7"):
        heads_named(["left"])


def test_the_command_finds_the_earlier_test_beside_it(capsys):
    file = str(folder() / "after-repair.toml")
    assert main(["mended", file, "--head", "left:14", "--json"]) == 0
    plain = json.loads(capsys.readouterr().out)
    assert list(plain["heads"][0]) == ["line", "number", "answer", "chance", "before", "after", "cans", "says"]
    assert main(["mended", str(folder() / "bare.toml")]) == 2
    assert "name it with --before" in capsys.readouterr().err


@pytest.mark.long
def test_who_is_told_mended_is_so():
    found = [mended_table.tried(9000 + seed) for seed in range(40)]
    told = [one for one in found if one.found.answer == "mended"]
    weak = [one for one in found if one.found.answer == "still weak"]
    assert len(told) >= 5 and len(weak) >= 4
    assert sum(one.truth >= mended_table.MENDED_FROM for one in told) >= 0.85 * len(told)
    assert sum(one.truth < mended_table.MENDED_FROM for one in weak) >= 0.85 * len(weak)
    assert sum(one.held for one in found) >= 31
