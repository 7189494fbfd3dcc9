"""Records that come through a browser: files and ZIP archives of them, in and out."""

from __future__ import annotations

import errno
import io
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path, PurePosixPath
from typing import BinaryIO

from ..record.file import MOST_BYTES
from .folders import file_name
from .reader import Reader
from .viewer import Viewer

MOST_FILES = 20_000  # records in one archive
MOST_UNPACKED = 200_000_000  # bytes that all archives of one upload may become
MOST_LISTED = 400 * MOST_FILES  # bytes of an archive's own list of its members
_END = 66_000  # bytes in which an archive's end must be: 22 and a comment of at most 65,535
_PIECE = 65_536  # bytes at a time
_NAME = 120  # bytes of one part of a name
_BROKEN = (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError, ValueError, KeyError,
           struct.error, IndexError, MemoryError, OverflowError)


class _Unread(ValueError):
    """What is not read, in words."""


def bundle(store: Reader, viewer: Viewer) -> bytes:
    """Put the records that stand into one ZIP archive, each as it was entered."""
    made = io.BytesIO()
    taken: dict[str, str] = {}
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for test, digest, text in store.texts(viewer):
            archive.writestr(file_name(test, digest, taken), text)
    return made.getvalue()


def unpack(files: Iterable[tuple[str, BinaryIO]], folder: Path) -> list[str]:
    """Write files and the records in archives into an empty folder, from where they can be taken in.

    The answer is one line for each archive, or part of one, that cannot be read; the others are written all the same.
    A record that is too large becomes one byte longer than the most, so that reading it says so.
    """
    faults: list[str] = []
    left = MOST_UNPACKED
    for number, (name, file) in enumerate(files):
        inside = folder / str(number)  # two archives may hold files of one name
        if not name.casefold().endswith(".zip"):
            _write(inside, name, iter([file.read(MOST_BYTES + 1)]))
            continue
        try:
            _check_end(file)
            with zipfile.ZipFile(file) as archive:
                members = _members(archive, left)
                for member in members:
                    try:
                        left -= _write(inside, member.filename, _pieces(archive, member))
                    except _BROKEN as error:
                        faults.append(f"{name}, {member.filename[:200]}: {_why(error)}")
        except _Unread as error:
            faults.append(f"{name}: {error}")
        except _BROKEN as error:
            faults.append(f"{name}: received an archive that cannot be read ({_kind(error)}), expected a ZIP archive "
                          "of records, make it again")
    return faults


def _members(archive: zipfile.ZipFile, left: int) -> list[zipfile.ZipInfo]:
    """The records of an archive, where they are few and small enough to be unpacked."""
    inside = [item for item in archive.infolist() if item.filename.casefold().endswith(".toml")]
    if len(inside) > MOST_FILES:
        raise _Unread(f"received {len(inside)} records, expected at most {MOST_FILES} at a time, split the archive")
    size = sum(min(item.file_size, MOST_BYTES + 1) for item in inside)
    if size > left:
        raise _Unread(f"received records that unpack to {size // 1_000_000} MB, expected at most "
                      f"{MOST_UNPACKED // 1_000_000} MB at a time, split the archive; nothing of it was taken")
    return inside


def _check_end(file: BinaryIO) -> None:
    """Refuse a list of members that would take long to read, whatever they are, before it is read."""
    size = file.seek(0, io.SEEK_END)
    file.seek(max(0, size - _END))
    end = file.read(_END)
    file.seek(0)
    listed = [int.from_bytes(end[at + 12:at + 16], "little") for at in _places(end, b"PK\5\6")]
    if any(most > MOST_LISTED for most in listed) or any(_places(end, b"PK\6\7")):
        raise _Unread(f"received an archive of too many files, expected at most {MOST_FILES}, split the archive")


def _places(data: bytes, sign: bytes) -> Iterator[int]:
    at = data.find(sign)
    while at >= 0:
        yield at
        at = data.find(sign, at + 1)


def _pieces(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> Iterator[bytes]:
    """A member piece by piece, one byte more than the most where it is too large."""
    if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        raise _Unread("received a record packed in a way that is not read here, expected a plain ZIP archive, make it "
                      "again")
    left = MOST_BYTES + 1
    with archive.open(member) as file:
        while left and (piece := file.read(min(_PIECE, left))):
            left -= len(piece)
            yield piece


def _why(error: Exception) -> str:
    return str(error) if isinstance(error, _Unread) else (
        f"received a record that cannot be unpacked ({_kind(error)}), expected a whole one, make the archive again")


def _kind(error: Exception) -> str:
    """A fault in words of our own: the library's and the system's may hold bytes of the file or paths of this machine.
    """
    if isinstance(error, RuntimeError) and "password" in str(error):
        return "it asks for a password"
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        return "the disk is full here"
    return "it is damaged"


def _write(folder: Path, name: str, pieces: Iterator[bytes]) -> int:
    """Write a file whole or not at all; how large it became."""
    # Only the parts of a name that lead downwards, and none that a system may refuse.
    parts = [part[:80] for part in PurePosixPath(name.replace("\\", "/")).parts if part.strip("./\\ ")]
    clean = ["".join(sign if sign.isalnum() or sign in "-_. " else "_" for sign in part) for part in parts]
    clean = [part.encode()[:_NAME].decode(errors="ignore") for part in clean] or ["record"]
    if not clean[-1].casefold().endswith(".toml"):
        clean[-1] += ".toml"
    path = folder.joinpath(*clean[-4:])
    path.parent.mkdir(parents=True, exist_ok=True)
    while path.exists():
        path = path.with_name(f"_{path.name}")
    size = 0
    try:
        with path.open("wb") as file:
            for piece in pieces:
                size += file.write(piece)
    except BaseException:
        path.unlink()
        raise
    return size
