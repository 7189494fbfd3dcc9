"""Words of causes in the supply: streams in the units of streams, and what is from memory says so."""

import pytest
from evenfall.record.file import parse_record
from evenfall.record.samples import sample_text
from evenfall.result.assessment import assess


@pytest.mark.parametrize("system, speed, other, margin", [("metric", " m/s", "km/h", "34 kPa"),
                                                          ("US", " ft/s", "mph", "5 psi")])
def test_water_in_a_hose_runs_in_metres_or_feet_a_second(system, speed, other, margin):
    causes = {cause.kind: cause for cause in assess(parse_record(sample_text("starved-far-end")), system=system).causes}
    says = causes["hose"].says.replace("\N{NO-BREAK SPACE}", " ")
    assert says.count(speed) == 2 and other not in says
    starved = causes["starved regulator"].says.replace("\N{NO-BREAK SPACE}", " ")
    assert f"Of that a regulator takes {margin} itself (from memory)." in starved
