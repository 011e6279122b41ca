"""Bring a database to its newest form: every step, or none."""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.script import ScriptDirectory
from sqlalchemy import Engine

__all__ = ["configuration", "forms", "upgrade"]


def configuration() -> Config:
    """Alembic's configuration, without a file of its own."""
    made = Config()
    made.set_main_option("script_location", str(Path(__file__).parent))
    made.set_main_option("path_separator", "os")
    return made


def forms() -> tuple[str, ...]:
    """Every form that the record had, the newest first."""
    return tuple(step.revision for step in ScriptDirectory.from_config(configuration()).walk_revisions())


def upgrade(engine: Engine, form: str = "head") -> None:
    """Run the steps that are missing up to a form, in one transaction. Raises what the database raises."""
    config = configuration()
    with engine.connect().execution_options(writes=True) as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, form)
