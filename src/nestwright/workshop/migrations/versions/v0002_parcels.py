"""Parcels with their route, box, pack, times, scans, what was predicted of them and what was found in them.

SQLite adds columns behind a table's rules only, so that the table is made anew. Acts of the history that wrote a parcel
get the new columns too: taking one back compares whole rows.
"""

from __future__ import annotations

from pathlib import Path

from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for statement in Path(__file__).with_suffix(".sql").read_text("utf-8").split(";\n"):
        if statement.strip():
            # past Alembic's own reading of the text, which takes a colon for a value to be filled in
            op.get_bind().exec_driver_sql(statement)
