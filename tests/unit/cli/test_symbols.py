import json

from typer.testing import CliRunner

from changewright.cli.main import app

run = CliRunner()


def test_symbols_from_standard_input_as_json() -> None:
    result = run.invoke(app, ["symbols", "--json"], input="F7\nBbmaj7/D\nN.C.\n")
    assert result.exit_code == 0
    seventh, slash, silent = json.loads(result.stdout)
    assert seventh["pcs"] == [0, 3, 5, 9]
    assert seventh["tones"] == ["F", "A", "C", "Eb"]
    assert (slash["bass"], slash["canonical"]) == (2, "Bbmaj7/D")
    assert silent["pcs"] == []


def test_a_symbol_that_cannot_be_read_keeps_its_place() -> None:
    result = run.invoke(app, ["symbols", "--json", "F7", "H7q", "C"])
    assert result.exit_code == 2
    first, bad, last = json.loads(result.stdout)
    assert first["error"] is None
    assert last["pcs"] == [0, 4, 7]
    assert "H7q" in bad["error"]
    assert bad["pcs"] is None
