"""Amounts that cannot be are refused when they are told, not kept as words."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from nestwright.errors import InputError
from nestwright.sensing.loggers.stream import head_of
from nestwright.workshop.builds import Made, measure_build
from nestwright.workshop.changes import Act
from nestwright.workshop.refills import told_filled


class Written(Act):
    """An act that keeps what it would write."""

    def __init__(self) -> None:
        self.rows: list[str] = []

    def add(self, table: object, values: dict[str, object]) -> int:  # type: ignore[override]
        self.rows.append(str(values["value"]))
        return len(self.rows)


def test_water_is_not_filled_by_the_kilometre() -> None:
    made, act = Made(1, "P-001", {}, (), ()), Written()
    with pytest.raises(InputError) as refused:
        told_filled(act, made, date(2026, 3, 1), "9 km")
    assert refused.value.field == "amount"
    told_filled(act, made, date(2026, 3, 1), "150 mL")
    told_filled(act, made, date(2026, 3, 1))
    assert act.rows == ["150 mL", "full"]


def test_a_size_below_zero_is_no_measured_value() -> None:
    act = Written()
    with pytest.raises(InputError) as refused:
        measure_build(act, 1, "width", "-5 mm", "2026-03-01")
    assert refused.value.field == "value"
    for value in ("118.4 mm", "-5 degC", "closes well"):
        measure_build(act, 1, "width", value, "2026-03-01")
    assert len(act.rows) == 3


@pytest.mark.parametrize(
    "content",
    [b"\0" * 900, b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + bytes(range(256)) * 8],
    ids=["zeros", "picture"],
)
def test_a_file_of_bytes_is_called_no_text_and_not_empty(content: bytes, tmp_path: Path) -> None:
    (tmp_path / "logger.csv").write_bytes(content)
    with pytest.raises(InputError, match="is no text"):
        head_of(tmp_path / "logger.csv")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "cp1252", "cp1251"])
def test_a_table_in_any_encoding_is_text(encoding: str, tmp_path: Path) -> None:
    text = "date;°C\r\n2026-03-01 08:00;24,1\r\n" if "1251" not in encoding else "дата;t\n2026-03-01 08:00;24,1\n"
    (tmp_path / "logger.csv").write_bytes(text.encode(encoding))
    assert head_of(tmp_path / "logger.csv")
