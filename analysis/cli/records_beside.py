"""Records that a command looks up beside the one it was given, and the units they were written in."""

from __future__ import annotations

import sys
from pathlib import Path


def own_system(record) -> str:
    """Units in which a record was written: ``US`` where the floor's width is in feet or inches, else ``metric``."""
    from ..units.shown import system_of

    return system_of(record.floor.width.text) or "metric"


def record_beside(name: str, folder: Path):
    """The record with this id in the same folder, or None; then the files that could not be read are named."""
    from ..record.faults import RecordFaults
    from ..record.file import parse_toml, read_record, read_text

    faults = []
    for path in sorted(folder.glob("*.toml"))[:500]:
        try:
            test = parse_toml(read_text(path), str(path)).get("test")
            if isinstance(test, dict) and test.get("id") == name:
                return read_record(path)
        except RecordFaults as error:
            faults += error.lines
    for line in faults:
        print(f"{line} (passed over while the test that this one rechecks was looked for)", file=sys.stderr)
    return None
