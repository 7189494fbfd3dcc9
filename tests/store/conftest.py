"""Stores to test on: an SQLite file, and a PostgreSQL server of the tests' own."""

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path

import pytest
from evenfall.store import Store

from ..machine import free_port
from .texts import record_text_of


def _programs():
    """Folder of the newest PostgreSQL's programs, or None."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/initdb"), key=lambda path: int(path.parts[-3]))
    if found:
        return found[-1].parent
    other = shutil.which("initdb")
    return Path(other).parent if other else None


@pytest.fixture(scope="session")
def server():
    """Address of a PostgreSQL server that lives as long as the tests; it refuses to run as root, so it does not."""
    programs = _programs()
    if programs is None:
        if os.environ.get("CI"):
            pytest.fail("PostgreSQL is missing: .ci/run installs it")
        pytest.skip("no PostgreSQL here")
    folder = Path(tempfile.mkdtemp(prefix="evenfall-pg-"))
    run = {"check": True, "capture_output": True, "text": True, "cwd": folder, "timeout": 120}
    if os.geteuid() == 0:
        user = pwd.getpwnam("postgres")
        os.chown(folder, user.pw_uid, user.pw_gid)
        run |= {"user": user.pw_uid, "group": user.pw_gid, "extra_groups": []}
    port, data = free_port(), folder / "data"
    subprocess.run([programs / "initdb", "-D", data, "-U", "tester", "-A", "trust", "-E", "UTF8", "--no-sync"], **run)
    options = f"-p {port} -k {folder} -c listen_addresses=127.0.0.1 -c max_connections=60"
    subprocess.run([programs / "pg_ctl", "-D", data, "-w", "-o", options, "-l", folder / "log", "start"], **run)
    yield f"postgresql://tester@127.0.0.1:{port}"
    subprocess.run([programs / "pg_ctl", "-D", data, "-m", "immediate", "stop"], **run)
    shutil.rmtree(folder, ignore_errors=True)


_count = iter(range(1_000_000))


@pytest.fixture(params=["sqlite", "postgresql"])
def address(request, tmp_path):
    """Address of an empty store, once of each kind."""
    if request.param == "sqlite":
        return f"sqlite:///{tmp_path}/store.sqlite"
    server = request.getfixturevalue("server")
    name = f"store{next(_count)}"
    import psycopg

    with psycopg.connect(f"{server}/postgres", autocommit=True) as connection:
        connection.execute(f"CREATE DATABASE {name}")
    return f"{server}/{name}"


@pytest.fixture
def store(address):
    made = Store(address)
    yield made
    made.door.close()


@pytest.fixture
def folder(tmp_path):
    """Twelve records of four members in a folder and one below it."""
    made = tmp_path / "records"
    (made / "older").mkdir(parents=True)
    for number in range(12):
        path = made / ("older" if number % 3 == 0 else ".") / f"test{number:02d}.toml"
        path.write_text(record_text_of(f"t-{number}", member=f"M{number % 4}", first=10 + number), "utf-8")
    return made
