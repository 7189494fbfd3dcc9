"""Small workbooks that declare much: refused, or read, before anything takes long."""

import re
import subprocess
import sys
import time

import pytest
from evenfall.entry.grids.reading import GridError, read_file

from .workbooks import book, packed, unpacked

PLAIN = book([["Tunnel", "four"], [31, 28], [30, 27]])
MAIN = 'xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"'
SHEET, STYLES, BOOK = "xl/worksheets/sheet1.xml", "xl/styles.xml", "xl/workbook.xml"


def changed(part, pattern, new):
    """The plain workbook with something put into one part."""
    members = unpacked(PLAIN)
    text, times = re.subn(pattern, new, members[part], count=1)
    assert times == 1
    return packed(members | {part: text})


def rows(*texts):
    return changed(SHEET, rb"</sheetData>", b"".join(texts) + b"</sheetData>")


def strings(xml):
    """The plain workbook with its words kept apart, as other programs do."""
    members = unpacked(PLAIN)
    link = (b'<Relationship Id="rIdS" Target="/xl/sharedStrings.xml" Type="http://schemas.openxmlformats.org/'
            b'officeDocument/2006/relationships/sharedStrings"/></Relationships>')
    kind = (b'<Override PartName="/xl/sharedStrings.xml" ContentType="application/vnd.openxmlformats-officedocument.'
            b'spreadsheetml.sharedStrings+xml"/></Types>')
    links = members["xl/_rels/workbook.xml.rels"].replace(b"</Relationships>", link)
    kinds = members["[Content_Types].xml"].replace(b"</Types>", kind)
    return packed(members | {"xl/sharedStrings.xml": f"<sst {MAIN}>{xml}</sst>".encode(),
                             "xl/_rels/workbook.xml.rels": links, "[Content_Types].xml": kinds})


def styles(number):
    xf = b'<xf numFmtId="0" fontId="0" fillId="0" borderId="0" xfId="0"><alignment horizontal="general"/></xf>'
    return changed(STYLES, rb"(<cellXfs[^>]*>)", rb"\1" + xf * number)


def row(number, cells):
    return b'<row r="%d">%s</row>' % (number, cells)


MERGED = b"".join(b'<mergeCell ref="A%d:B%d"/>' % (at, at) for at in range(10, 100_010))
REFUSED = {
    "300,000 styles": (styles(300_000), "whose styles has 900,"),
    "fonts": (changed(STYLES, rb"(<fonts[^>]*>)", rb"\1" + b"<font/>" * 100_000), "whose styles has 100,"),
    "formats": (changed(STYLES, rb"<numFmts[^>]*/>", b"<numFmts>" + b'<numFmt numFmtId="200" formatCode="0"/>' * 100_000
                        + b"</numFmts>"), "whose styles has 100,"),
    "names": (changed(BOOK, rb"</workbook>", b"<definedNames>" + b'<definedName name="a">A!$A$1</definedName>' * 50_000
                      + b"</definedNames></workbook>"), "whose list of sheets and names has 100,"),
    "parts": (changed("[Content_Types].xml", rb"</Types>", b'<Override PartName="/a" ContentType="b"/>' * 100_000
                      + b"</Types>"), "whose list of parts has 100,"),
    "texts": (strings("<si><t>a</t></si>" * 200_000), "whose list of texts has 800,"),
    "blank cells": (rows(*(row(at, b'<c s="0"/>' * 1000) for at in range(4, 1004))), "whose sheet has 1,00"),
    "blank rows": (rows(b"<row/>" * 1_000_000), "whose sheet has 1,000,"),
    "filled cells": (rows(*(row(at, b'<c t="n"><v>1</v></c>' * 400) for at in range(4, 154))), "received about 40,001"),
    "one long row": (rows(row(4, b'<c t="n"><v>1</v></c>' * 20_000)), "and 501 columns"),
    "a far column": (rows(row(4, b'<c r="XFD4" t="n"><v>1</v></c>')), "and 16,384 columns"),
}
READ = {
    "100,000 merged ranges": changed(SHEET, rb"</sheetData>", b"</sheetData><mergeCells>" + MERGED + b"</mergeCells>"),
    "conditional formats": changed(SHEET, rb"</sheetData>", b"</sheetData>" + b'<conditionalFormatting sqref="A1">'
                                   b'<cfRule type="expression" priority="1"><formula>1</formula></cfRule>'
                                   b"</conditionalFormatting>" * 50_000),
    "columns": changed(SHEET, rb"<sheetData>", b"<cols>" + b'<col min="1" max="1" width="9"/>' * 200_000
                       + b"</cols><sheetData>"),
    "far blank cells": rows(*(row(at, b'<c r="XFD%d" s="0"/>' % at) for at in range(4, 20_004))),
    "a far row": rows(row(1_048_576, b'<c r="A1048576" s="0"/>')),
    "shared formulas": rows(row(5, b'<c r="A5"><f t="shared" ref="A5:A9" si="0">A2+1</f><v>32</v></c>'
                                   b'<c r="B5"><f t="shared" si="0"/><v>29</v></c>')),
    "other sheets": packed(unpacked(PLAIN) | {"xl/worksheets/sheet7.xml": f"<worksheet {MAIN}><sheetData>".encode()
                                              + b"<row/>" * 2_000_000 + b"</sheetData></worksheet>"}),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_declares_too_much_is_refused_in_a_moment(name):
    data, says = REFUSED[name]
    began = time.process_time()
    with pytest.raises(GridError) as caught:
        read_file(data, "a.xlsx")
    assert time.process_time() - began < 2
    assert says in str(caught.value) and ", expected " in str(caught.value)


@pytest.mark.parametrize("name", READ)
def test_what_nobody_needs_is_not_parsed(name):
    began = time.process_time()
    understood = read_file(READ[name], "a.xlsx")
    assert time.process_time() - began < 2
    assert understood.readings[:2] == ((31, 28), (30, 27))


@pytest.mark.parametrize("raw", [b"<mergeCell " * 1_000_000, b"<row hidden=" * 1_000_000, b"<sheetData>" * 1_000_000,
                                 b"</a" * 1_000_000, b"<c><f/>" * 1_000_000])
def test_markup_that_is_never_closed_is_refused_in_a_moment(raw):
    began = time.process_time()
    with pytest.raises(GridError, match="received 'a.xlsx', which"):
        read_file(changed(SHEET, rb"<sheetData>.*", b"<sheetData>" + raw), "a.xlsx")
    assert time.process_time() - began < 2


def test_long_words_that_many_cells_share_are_read_once():
    cells = b"".join(row(at, b'<c t="s"><v>0</v></c>' * 400) for at in range(4, 90))
    members = unpacked(strings(f"<si><t>{'word ' * 400_000}</t></si>"))
    sheet = members[SHEET].replace(b"</sheetData>", cells + b"</sheetData>")
    began = time.process_time()
    with pytest.raises(GridError):
        read_file(packed(members | {SHEET: sheet}), "a.xlsx")
    assert time.process_time() - began < 2


def test_a_workbook_in_wide_letters_is_read():
    members = unpacked(PLAIN)
    wide = {name: ("\ufeff" + members[name].decode()).encode("utf-16-le") for name in (SHEET, STYLES, BOOK)}
    assert read_file(packed(members | wide), "a.xlsx").readings == ((31, 28), (30, 27))


@pytest.mark.skipif(sys.platform != "linux", reason="memory is limited as Linux does it")
@pytest.mark.parametrize("name", ["blank cells", "filled cells", "texts"])
def test_no_workbook_takes_more_than_300_megabytes(name, tmp_path):
    path = tmp_path / "a.xlsx"
    path.write_bytes(REFUSED[name][0])
    code = ("import resource, sys\n"
            "from evenfall.entry.grids.reading import GridError, read_file\n"
            "import openpyxl\n"
            "before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss\n"
            "try:\n    read_file(open(sys.argv[1], 'rb').read(), 'a.xlsx')\nexcept GridError:\n    pass\n"
            "print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before)")
    done = subprocess.run([sys.executable, "-c", code, str(path)], capture_output=True, text=True, timeout=120)
    assert int(done.stdout) < 300_000, done.stderr
