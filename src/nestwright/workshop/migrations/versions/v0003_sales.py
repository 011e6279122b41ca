"""Buyers, sales, feedback, and the stock of made parts."""

from __future__ import annotations

from pathlib import Path

from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for statement in Path(__file__).with_suffix(".sql").read_text("utf-8").split(";\n"):
        if statement.strip():
            op.get_bind().exec_driver_sql(statement)
