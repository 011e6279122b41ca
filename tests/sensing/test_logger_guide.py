"""The examples of docs/guide/logger-files.md run, and its tables are complete."""

import re
import shutil
from pathlib import Path

from nestwright.sensing.loggers import load_mapping
from nestwright.sensing.loggers.words import words

ROOT = Path(__file__).parents[2]
GUIDE = (ROOT / "docs" / "guide" / "logger-files.md").read_text("utf-8")


def test_python_example(tmp_path, monkeypatch, capsys):
    shutil.copy(ROOT / "tests" / "data" / "loggers" / "german-semicolon.csv", tmp_path / "march.csv")
    monkeypatch.chdir(tmp_path)
    exec(re.search(r"```python\n(.*?)```", GUIDE, re.S)[1], {})
    assert "30 30" in capsys.readouterr().out


def test_toml_example():
    mapping = load_mapping(re.search(r"```toml\n(.*?)```", GUIDE, re.S)[1])
    assert [c.channel for c in mapping.columns] == ["temperature"]


def test_every_quantity_and_unit_is_named():
    table = words()
    for quantity in table.quantities:
        assert re.search(quantity.replace("_", " "), GUIDE, re.I)
    shown = GUIDE.replace("°C", "degC").replace("°F", "degF")
    for quantity in ("temperature", "co2", "pressure", "light", "battery", "weight"):
        for unit in table.quantities[quantity].units:
            assert unit.removeprefix("vol") in shown
