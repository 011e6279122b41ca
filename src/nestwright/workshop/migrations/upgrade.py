"""Bring a database to its newest form: every step, or none."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from sqlalchemy import Engine

__all__ = ["configuration", "upgrade"]


def configuration() -> Config:
    """Alembic's configuration, without a file of its own."""
    made = Config()
    made.set_main_option("script_location", str(Path(__file__).parent))
    made.set_main_option("path_separator", "os")
    return made


def upgrade(engine: Engine) -> None:
    """Run the steps that are missing, in one transaction. Raises what the database raises."""
    config = configuration()
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
