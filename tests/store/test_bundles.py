"""Archives that come through a browser: what is whole comes in, each fault is one line, nothing grows without bound."""

import io
import random
import resource
import time
import zipfile

import pytest
from evenfall.record.file import MOST_BYTES
from evenfall.store import OWNER, Store, bundles
from evenfall.store.bundles import bundle, unpack
from evenfall.store.folders import take_in

from .texts import record_text_of


def zipped(files, how=zipfile.ZIP_DEFLATED):
    made = io.BytesIO()
    with zipfile.ZipFile(made, "w", how) as archive:
        for name, data in files.items():
            archive.writestr(name, data)
    return made.getvalue()


def records(count=6):
    return {f"r{number}.toml": record_text_of(f"t-{number}", first=number + 1) for number in range(count)}


def unpacked(data, folder, name="a.zip"):
    """Lines of faults, and the files that were written."""
    folder.mkdir(exist_ok=True)
    faults = unpack([(name, io.BytesIO(data))], folder)
    assert all(len(line.splitlines()) == 1 and str(folder) not in line and "/tmp" not in line for line in faults)
    return faults, {path.name: path.read_bytes() for path in folder.rglob("*.toml")}


def test_a_broken_record_is_one_line_and_the_others_come_in(tmp_path):
    data = bytearray(zipped(records(), zipfile.ZIP_STORED))
    at = data.find(b"[[3,")
    data[at:at + 2] = b"XX"
    faults, files = unpacked(bytes(data), tmp_path / "in")
    assert faults == ["a.zip, r2.toml: received a record that cannot be unpacked (it is damaged), expected a whole "
                      "one, make the archive again"]
    assert files == {name: text.encode() for name, text in records().items() if name != "r2.toml"}
    store = Store(tmp_path / "s.sqlite")
    assert take_in(store, OWNER, tmp_path / "in").done == 5
    again = unpacked(bundle(store, OWNER), tmp_path / "again")
    assert again[0] == [] and len(again[1]) == 5


@pytest.mark.parametrize(("data", "says"), [
    (b"no archive", "a.zip: received an archive that cannot be read (it is damaged), expected a ZIP archive"),
    (zipped({"a.toml": "x"}, zipfile.ZIP_LZMA), "a.zip, a.toml: received a record packed in a way that is not read"),
    (zipped({"a.toml": "x"}, zipfile.ZIP_BZIP2), "a.zip, a.toml: received a record packed in a way that is not read"),
    (zipped({"a.toml": "x"}).replace(b"PK\1\2\x14\3\x14\0\0\0", b"PK\1\2\x14\3\x14\0\1\0"),
     "a.zip, a.toml: received a record that cannot be unpacked (it asks for a password)"),
])
def test_what_cannot_be_read_is_said(tmp_path, data, says):
    faults, files = unpacked(data, tmp_path / "in")
    assert len(faults) == 1 and faults[0].startswith(says) and files == {}


def test_names_lead_nowhere_else_and_are_never_too_long(tmp_path):
    odd = ["../../out.toml", "/etc/x.toml", "C:\\x.toml", "a/" * 90 + "deep.toml", "ü" * 300 + ".toml",
           "水" * 200 + ".toml", "...toml", " .toml", "x" * 65_000 + ".toml"]
    faults, files = unpacked(zipped({name: "record = 1" for name in odd}), tmp_path / "in")
    written = [path for path in (tmp_path / "in").rglob("*") if path.is_file()]
    assert len(written) == len(odd) and faults == [] and set(files.values()) == {b"record = 1"}
    assert [path.name for path in tmp_path.iterdir()] == ["in"]


def test_a_quarter_of_a_megabyte_does_not_become_two_hundred(tmp_path):
    """Records of one megabyte of blanks each: refused by what they declare, before any is written."""
    data = zipped({f"{number}.toml": b" " * MOST_BYTES for number in range(210)})
    assert len(data) < 300_000
    start = time.process_time()
    faults, files = unpacked(data, tmp_path / "in")
    assert files == {} and time.process_time() - start < 1
    assert faults == ["a.zip: received records that unpack to 210 MB, expected at most 200 MB at a time, split the "
                      "archive; nothing of it was taken"]


def test_the_limit_is_of_all_archives_of_one_upload(tmp_path, monkeypatch):
    monkeypatch.setattr(bundles, "MOST_UNPACKED", 30_000)
    data = zipped({"a.toml": b" " * 20_000})
    faults = unpack([("one.zip", io.BytesIO(data)), ("two.zip", io.BytesIO(data))], tmp_path)
    assert len(faults) == 1 and faults[0].startswith("two.zip: received records that unpack to")


def test_what_lies_about_its_size_is_cut_there(tmp_path):
    data = zipped({"a.toml": b" " * 500_000})
    liar = data.replace((500_000).to_bytes(4, "little"), (9).to_bytes(4, "little"))
    faults, files = unpacked(liar, tmp_path / "in")
    assert sum(map(len, files.values())) <= 9 or faults


def test_a_record_that_is_too_large_is_said_by_the_import(tmp_path):
    _, files = unpacked(zipped({"big.toml": b"#" * (3 * MOST_BYTES)}), tmp_path / "in")
    assert len(files["big.toml"]) == MOST_BYTES + 1
    moved = take_in(Store(tmp_path / "s.sqlite"), OWNER, tmp_path / "in")
    assert "received a file of more than 1 MB" in moved.faults[0]


def test_an_endless_list_of_members_is_not_read(tmp_path):
    data = zipped({f"{number:05d}.toml": "" for number in range(21_000)})
    assert unpacked(data, tmp_path / "in")[0] == [
        "a.zip: received 21000 records, expected at most 20000 at a time, split the archive"]
    many = zipped({f"{number:05d}{'x' * 100}": "" for number in range(60_000)})
    before = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    assert "received an archive of too many files" in unpacked(many, tmp_path / "in")[0][0]
    assert resource.getrusage(resource.RUSAGE_SELF).ru_maxrss - before < 100_000  # [kB]


def mutated(data, other, rng):
    """An archive with a few bytes changed, a piece cut out, doubled, or put in from another."""
    made = bytearray(data)
    for _ in range(rng.choice([1, 1, 2, 5, 20])):
        at, size = rng.randrange(len(made)), rng.choice([1, 1, 1, 2, 4, 30])
        how = rng.randrange(6)
        if how == 0:
            made[at] ^= 1 << rng.randrange(8)
        elif how == 1:
            made[at:at + size] = rng.randbytes(size)
        elif how == 2:
            del made[at:at + size]
        elif how == 3:
            made[at:at] = made[at:at + size]
        elif how == 4:
            start = rng.randrange(len(other))
            made[at:at + size] = other[start:start + size]
        else:
            sign = rng.choice([b"PK\1\2", b"PK\3\4", b"PK\5\6"])
            found = made.find(sign, at)
            if 0 <= found < len(made) - 44:  # the fields of a heading
                made[found + 4 + rng.randrange(40)] = rng.choice([0, 1, 8, 12, 14, 99, 127, 128, 255])
        made = made or bytearray(b"P")
    return bytes(made)


def test_mutated_archives_never_reach_the_screen(tmp_path, cases):
    """Whatever an archive is, the answer is lines; what is whole in it is as it was packed."""
    rng = random.Random(11)
    sound = [zipped(records()), zipped(records(), zipfile.ZIP_STORED), zipped({**records(2), "n.txt": "no record"})]
    texts = {text.encode() for text in records().values()}
    told = came = 0
    for number in range(cases):
        folder = tmp_path / str(number)
        faults, files = unpacked(mutated(rng.choice(sound), rng.choice(sound), rng), folder)
        told += bool(faults)
        came += len(texts & set(files.values()))
        for path in sorted(folder.rglob("*"), reverse=True):
            path.unlink() if path.is_file() else path.rmdir()
        folder.rmdir()
    print(f"\n{cases} archives: {told} with faults, {came} whole records came in")
    assert told > cases / 4 and came > cases
