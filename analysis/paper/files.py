"""Where a paper is written; nothing that exists is written over."""

from __future__ import annotations

from pathlib import Path


def free_name(record: str, name: str, to: str | None) -> Path:
    """Choose where a paper goes."""
    target = Path(to) if to else Path(record).with_name(f"{Path(record).stem}-{name}.pdf")
    if target.exists():
        raise ValueError(f"{target}: received the name of a file that exists, expected a new one, take it away or name "
                         "another with --to")
    return target


def write_paper(data: bytes, target: Path) -> None:
    """Write a paper, and say where it is."""
    try:
        target.write_bytes(data)
    except OSError as error:
        raise ValueError(f"{target}: could not be written ({error.strerror}), expected a folder that can be written "
                         "to, name another with --to") from None
    print(f"Written: {target}")
