"""Which survey shows the helix as it was approved, and which change approved it."""

from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0003"
down_revision = "0002"


def upgrade() -> None:
    """Add the mark; no survey has it yet."""
    # Alembic adds a column and its foreign key in two statements, of which SQLite knows but one.
    op.execute("ALTER TABLE surveys ADD COLUMN approved INTEGER REFERENCES changes (number)")
