"""Records that come through a browser: files and ZIP archives of them, in and out."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Iterable
from pathlib import Path, PurePosixPath

from ..record.file import MOST_BYTES
from .folders import file_name
from .reader import Reader
from .viewer import Viewer

MOST_FILES = 20_000  # in one archive


def bundle(store: Reader, viewer: Viewer) -> bytes:
    """Put the records that stand into one ZIP archive, each as it was entered."""
    made, taken = io.BytesIO(), {}
    with zipfile.ZipFile(made, "w", zipfile.ZIP_DEFLATED) as archive:
        for test, digest, text in store.texts(viewer):
            archive.writestr(file_name(test, digest, taken), text)
    return made.getvalue()


def unpack(files: Iterable[tuple[str, bytes]], folder: Path) -> list[str]:
    """Write files and the records in archives into a folder, from where they can be taken in."""
    faults = []
    for number, (name, data) in enumerate(files):
        inside = folder / str(number)  # two archives may hold files of one name
        if not name.casefold().endswith(".zip"):
            _write(inside, name, data[:MOST_BYTES + 1])
            continue
        try:
            with zipfile.ZipFile(io.BytesIO(data)) as archive:
                _unzip(archive, inside)
        except (zipfile.BadZipFile, RuntimeError, NotImplementedError, EOFError, OSError, ValueError) as error:
            faults.append(f"{name}: received an archive that cannot be read ({' '.join(str(error).split())[:100]}), "
                          "expected a ZIP archive of records, make it again")
    return faults


def _unzip(archive: zipfile.ZipFile, folder: Path) -> None:
    inside = [item for item in archive.infolist() if not item.is_dir() and item.filename.casefold().endswith(".toml")]
    if len(inside) > MOST_FILES:
        raise ValueError(f"{len(inside)} records, at most {MOST_FILES} are taken at a time")
    for item in inside:
        with archive.open(item) as file:
            _write(folder, item.filename, file.read(MOST_BYTES + 1))


def _write(folder: Path, name: str, data: bytes) -> None:
    """Only the parts of a name that lead downwards, and none that a system may refuse."""
    parts = [part[:80] for part in PurePosixPath(name.replace("\\", "/")).parts if part.strip("./\\ ")]
    clean = ["".join(sign if sign.isalnum() or sign in "-_. " else "_" for sign in part) for part in parts]
    clean = clean or ["record"]
    if not clean[-1].casefold().endswith(".toml"):
        clean[-1] += ".toml"
    path = folder.joinpath(*clean[-4:])
    path.parent.mkdir(parents=True, exist_ok=True)
    while path.exists():
        path = path.with_name(f"_{path.name}")
    path.write_bytes(data)
