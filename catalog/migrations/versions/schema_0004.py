"""On how many axles a car stands."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    """Add the number; of no car it is known yet."""
    op.add_column("cars", sa.Column("axles", sa.Double, nullable=True))
