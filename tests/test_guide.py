"""The guide and the README: every example runs, every command is one, every page that is named is there."""

import doctest
import re
import shlex

import numpy as np
import pytest
from evenfall.cli.command import _parser
from evenfall.record.samples import SHOWS, folder, sample_text

from .conftest import ROOT

GUIDE = sorted((ROOT / "analysis" / "guide").glob("*.md"))
TEXTS = [ROOT / "README.md", *GUIDE, folder() / "README.md"]


@pytest.fixture
def desk(tmp_path, monkeypatch):
    """A folder with the samples and the grid that the guide reads."""
    for name in SHOWS:
        (tmp_path / f"{name}.toml").write_text(sample_text(name), "utf-8")
    depth = 7 + 2 * np.sin(np.arange(24).reshape(6, 4) * 1.7)
    np.savetxt(tmp_path / "grid.csv", depth, delimiter=",", fmt="%.1f")
    monkeypatch.chdir(tmp_path)


@pytest.mark.parametrize("page", [page for page in GUIDE if ">>>" in page.read_text("utf-8")],
                         ids=lambda page: page.stem)
def test_every_example_runs(page, desk):
    failed, tried = doctest.testfile(str(page), module_relative=False, encoding="utf-8",
                                     optionflags=doctest.ELLIPSIS)
    assert tried and failed == 0


def test_the_readme_says_in_python_what_the_guide_runs(desk):
    text = (ROOT / "README.md").read_text("utf-8").split("## From Python")[1].split("## More")[0]
    code = "\n".join(line[4:] for line in text.splitlines() if line.startswith("    "))
    names = {}
    exec(compile(code.replace(".show()", ""), "README.md", "exec"), names)
    assert 0 < names["result"].du_low_quarter < names["result"].cu < 100


@pytest.mark.parametrize("page", TEXTS, ids=lambda page: f"{page.parent.name}-{page.stem}")
def test_every_command_is_one(page):
    for line in page.read_text("utf-8").splitlines():
        if line.startswith("    evenfall "):
            _parser().parse_args(shlex.split(line, comments=True)[1:])


def test_the_readme_is_short_and_its_links_lead_somewhere():
    text = (ROOT / "README.md").read_text("utf-8")
    assert len(text.splitlines()) <= 200
    links = re.findall(r"\]\(([^)#]+)\)", text)
    assert len(links) > 6 and [link for link in links if not (ROOT / link).exists()] == []
    assert {page.name for page in GUIDE} == {link.rpartition("/")[2] for link in links if "guide/" in link}
