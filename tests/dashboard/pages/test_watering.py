"""The page of watering."""

import pytest
from evenfall.dashboard import water_parts
from evenfall.record.samples import sample_text

from .visit import begin, page, told, words


def test_the_crop_gives_a_plan_at_once():
    app = page("watering", begin(sample_text("commissioning")))
    labels = {metric.label: metric.value for metric in app.metric}
    assert labels["Run it"].startswith("44 min (") and labels["Every"] == "3 days" and "runs of" in labels["Cut into"]
    assert "the driest quarter 12.0 mm" in words(app)


def test_another_depth_for_another_part_of_the_ground():
    app = page("watering", begin(sample_text("blocked-head")))
    assert "Say how much is wanted" in words(app) and not app.metric
    app.text_input(key="water depth").set_value("8 mm").run()
    first = app.metric[0].value
    app.selectbox(key="water serves").set_value("mean").run()
    assert int(app.metric[0].value.split()[0]) < int(first.split()[0])
    assert "In a week" not in [metric.label for metric in app.metric]
    price = app.number_input(key="water price US")
    assert price.label == "Price of 1000 gal of water, in your money"
    price.set_value(2.0).run()
    assert "At that price each watering costs" in words(app)


@pytest.mark.parametrize(("units", "cubic_metres"), [("metric", 1.0), ("US", 3.785411784)])  # 231 in3 a gallon
def test_a_price_is_for_the_unit_that_it_names(units, cubic_metres, monkeypatch):
    asked = []
    monkeypatch.setattr(water_parts.st, "number_input", lambda *_, **__: 6.0)
    monkeypatch.setattr(water_parts.st, "text", lambda _: None)
    monkeypatch.setattr(water_parts.advice, "money", lambda plan, each: asked.append(each))
    water_parts.price(None, units)
    assert asked == [pytest.approx(6.0 / cubic_metres)]


@pytest.mark.parametrize(("text", "says"), [("8", "Net depth wanted: received '8' without a unit"),
                                            ("0 mm", "expected more than 0"),
                                            ("8 kPa", "Net depth wanted: received")])
def test_a_depth_that_cannot_be_is_said(text, says):
    app = page("watering", begin(sample_text("commissioning")))
    app.text_input(key="water depth").set_value(text).run()
    (error,) = told(app, "error")
    assert says in error


def test_from_the_cans_alone():
    app = page("watering", begin(sample_text("bare")))
    app.text_input(key="water depth").set_value("0.3 in").run()
    assert app.metric[0].label == "Run it" and not app.exception
