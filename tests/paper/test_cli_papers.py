"""The papers from a terminal."""

import pytest
from evenfall.cli.command import main
from evenfall.record.samples import sample_text


@pytest.fixture
def record(tmp_path):
    target = tmp_path / "tunnel.toml"
    target.write_text(sample_text("blocked-head"), "utf-8")
    return target


@pytest.mark.parametrize("name", ["sheet", "handover"])
def test_a_paper_is_written_beside_the_record_once(record, name, capsys):
    assert main([name, str(record)]) == 0
    made = record.with_name(f"tunnel-{name}.pdf")
    assert made.read_bytes().startswith(b"%PDF") and f"Written: {made}" in capsys.readouterr().out
    before = made.read_bytes()
    assert main([name, str(record)]) == 2
    out, err = capsys.readouterr()
    assert out == "" and "received the name of a file that exists, expected a new one" in err
    assert made.read_bytes() == before
    assert main([name, str(record), "--to", str(record.with_name("other.pdf")), "--paper", "A4",
                 "--units", "metric"]) == 0


def test_a_folder_that_cannot_be_written_to_is_said(record, capsys):
    assert main(["sheet", str(record), "--to", str(record.parent / "no" / "such.pdf")]) == 2
    assert "could not be written" in capsys.readouterr().err


def test_a_sheet_needs_no_readings_and_a_handover_does(tmp_path, capsys):
    planned = tmp_path / "planned.toml"
    planned.write_text('record = 1\n[test]\ntitle = "to come"\n[floor]\nwidth = "7 m"\nlength = "20 m"\n', "utf-8")
    assert main(["sheet", str(planned)]) == 0
    assert main(["handover", str(planned)]) == 2
    assert "cans" in capsys.readouterr().err
