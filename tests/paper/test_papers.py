"""The field sheet and the handover, read back from their PDFs."""

import io
import re
import tomllib

import numpy as np
import pytest
from evenfall.causes.cautions import SAFETY
from evenfall.paper import new_page
from evenfall.paper.field_sheet import make_sheet
from evenfall.paper.handover import LIMITS, care, make_handover
from evenfall.planning.layouts import walk
from evenfall.record.file import parse_record, record_text
from evenfall.record.samples import SHOWS, sample_text
from evenfall.result import advice, meanings
from evenfall.result.assessment import assess
from evenfall.units.shown import show
from pypdf import PdfReader

from ..conftest import result_of

NASTY = ['He said "wet"', "<b>bold</b> & [link](http://127.0.0.1/x) **x**", "🌧️ drip 💧", "حقل الاختبار", "w" * 200,
         "  a\tb  "]


def read(data):
    reader = PdfReader(io.BytesIO(data))
    return reader, [page.extract_text() for page in reader.pages]


def flat(text):
    return re.sub(r"\s+", " ", " ".join(text) if isinstance(text, list) else text)


def pieces(page):
    """Texts of a page as they were set, one by one."""
    found = []
    page.extract_text(visitor_text=lambda text, *_: found.append(text.strip()))
    return found


def squeezed(text):
    """Without blanks and line breaks: where a line is broken is no matter."""
    return re.sub(r"[\s–]+", "", " ".join(text) if isinstance(text, list) else text)


@pytest.fixture(scope="module")
def results():
    return {name: result_of(name) for name in SHOWS}


@pytest.mark.parametrize("name", SHOWS)
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_handover_has_two_to_four_pages_and_every_figure(results, name, paper):
    record, result = parse_record(sample_text(name)), results[name]
    reader, pages = read(make_handover(record, result, "metric", paper))
    assert 2 <= len(pages) <= 4
    said = squeezed(pages)
    for text in (record.test.title, f"{result.at_the_cans.du_low_quarter:.0f} %", f"{result.at_the_cans.cu:.0f} %",
                 meanings.interval(result.whole_floor.du_low_quarter), meanings.interval(result.whole_floor.cu),
                 show(result.catch.mean_mm / 1e3, "depth", "metric"), *care("metric"), *LIMITS, *SAFETY,
                 *(spot.where for spot in result.dry_spots[:3]), *(item.value.text for item in record.pressures or [])):
        assert squeezed(text) in said, text
    told, _ = advice.told_causes(result.causes)
    for cause in told[:4]:
        assert squeezed(cause.says) in said and squeezed(cause.where[1:]) in said
    for sentence in advice.watering_means(result.watering, "metric") if result.watering else []:
        assert squeezed(sentence) in said


def test_the_handover_has_bookmarks_a_title_and_embedded_fonts(results):
    reader, _ = read(make_handover(parse_record(sample_text("blocked-head")), results["blocked-head"]))
    assert reader.metadata.title == "Handover: Bare patch by the left line"
    names = [item.title for item in _flatten(reader.outline)]
    assert names[0].startswith("Handover") and "Watering plan" not in names and "Baseline for the next test" in names
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    assert fonts and all("/FontFile2" in font["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
                         for font in fonts)
    assert reader.trailer["/Root"]["/Lang"] == "en"


def _flatten(outline):
    for item in outline:
        if isinstance(item, list):
            yield from _flatten(item)
        else:
            yield item


@pytest.mark.parametrize("name", SHOWS)
def test_a_sheet_holds_every_can_in_walking_order_with_its_reading(results, name):
    record = parse_record(sample_text(name))
    reader, pages = read(make_sheet(record))
    said, plan = flat(pages[1:]), pieces(reader.pages[0])
    stops = walk(tomllib.loads(record_text(record))["cans"])
    assert len(stops) == len(results[name].cans.x)
    for stop in stops:
        assert str(stop.number) in plan and f"{stop.number} {stop.x:.2f} / {stop.y:.2f}" in said
    assert "Pressures, read while the water runs" in said and "Control cans" in said
    if record.cans.grid:
        flat_grid = [value for row in record.cans.grid for value in row if not np.isnan(value)]
        assert all(f"{value:g}" in said for value in flat_grid)


def test_a_sheet_before_its_test_is_empty_and_works_without_cans():
    text = re.sub(r"\n\[cans\].*?(?=\n\[)", "", sample_text("commissioning"), flags=re.S)
    text = re.sub(r"\n\[run\].*?(?=\n\[)", "",
                  re.sub(r"\n\[cans\.evaporation\].*?(?=\n\[)", "", text, flags=re.S), flags=re.S)
    record = parse_record(text, planning=True)
    _, pages = read(make_sheet(record))
    assert len(pages) <= 3 and "Readings (in one unit" in flat(pages)
    placed = text + '\n[cans]\nacross = ["1 m", "3 m", "5 m"]\nalong = ["2 m", "8 m", "14 m"]\n'
    _, pages = read(make_sheet(parse_record(placed, planning=True)))
    assert re.search(r"9 1\.00 / 14\.00|9 5\.00 / 14\.00", flat(pages)) and "nan" not in flat(pages)


@pytest.mark.parametrize(("rows", "columns"), [(2, 2), (15, 10)])
@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_small_bed_and_a_large_tunnel_fit(rows, columns, paper):
    across = ", ".join(f'"{0.5 + 0.8 * k:.1f} m"' for k in range(columns))
    along = ", ".join(f'"{0.5 + 1.9 * k:.1f} m"' for k in range(rows))
    grid = ", ".join(f"[{', '.join(str(20 + k) for k in range(columns))}]" for _ in range(rows))
    record = parse_record(f'record = 1\n[test]\ntitle = "fits"\n[floor]\nwidth = "{0.8 * columns + 0.4:.1f} m"\n'
                          f'length = "{1.9 * rows + 0.4:.1f} m"\n[cans]\nreads = "volume"\nunit = "mL"\n'
                          'opening = "84 mm"\n'
                          f"across = [{across}]\nalong = [{along}]\ngrid = [{grid}]\n[run]\nduration = \"30 min\"\n")
    for system in ("metric", "US"):
        reader, pages = read(make_sheet(record, system, paper))
        assert 2 <= len(pages) <= 5
        assert {"1", str(rows * columns)} <= set(pieces(reader.pages[0]))
        height = float(reader.pages[0].mediabox.height)
        assert height == pytest.approx(841.9 if paper == "A4" else 792, abs=1)


@pytest.mark.parametrize("name", NASTY)
def test_no_name_breaks_a_page(name):
    quoted = '"' + name.replace("\\", "\\\\").replace('"', '\\"').replace("\t", " ") + '"'
    text = re.sub(r"^title = .*$", f"title = {quoted}", sample_text("blocked-head"), count=1, flags=re.M)
    text = re.sub(r"^site = .*$", f"site = {quoted}", text, count=1, flags=re.M)
    record = parse_record(text)
    result = assess(record, only="cans")
    for data in (make_handover(record, result), make_sheet(record)):
        reader, pages = read(data)
        assert 2 <= len(pages) <= 5
        if name.isascii():
            assert squeezed(record.test.title)[:40] in squeezed(pages)
        # Text stays text: no link, file or picture comes from it.
        assert not any("/Annots" in page for page in reader.pages)


def test_another_paper_is_refused():
    with pytest.raises(ValueError, match="received the paper 'A5', expected A4 or Letter"):
        new_page("A5", "x", "y")


def test_long_words_are_clipped_to_their_cell():
    page = new_page("A4", "t", "k")
    shown = page.clipped("w" * 400, 40)
    assert shown.endswith("…") and page.get_string_width(shown) <= 40
    assert page.clipped("short", 40) == "short"
