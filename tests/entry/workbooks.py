"""What the tests of tables share: making workbooks, and taking them apart."""

import io
import zipfile

import openpyxl


def book(rows, *, sheets=None, edit=None):
    """The bytes of a workbook."""
    made = openpyxl.Workbook()
    made.active.title = "Catch"
    for row in rows:
        made.active.append(row)
    for name, more in (sheets or {}).items():
        sheet = made.create_sheet(name)
        for row in more:
            sheet.append(row)
    if edit:
        edit(made)
    out = io.BytesIO()
    made.save(out)
    return out.getvalue()


def unpacked(data):
    """Members of a ZIP archive by name."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(members):
    """The bytes of a ZIP archive."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items():
            archive.writestr(name, data)
    return out.getvalue()
