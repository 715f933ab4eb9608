"""Frames of articulated stock, what trucks and couplers bear, and surveys of a helix."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0002"
down_revision = "0001"

_CAR_FIGURES = ("truck_swing_deg", "coupler_swing_mm", "coupler_drop_mm", "coupler_angle_deg")


def upgrade() -> None:
    """Let a car be without a wheelbase, and add what is new."""
    with op.batch_alter_table("cars") as cars:
        cars.alter_column("wheelbase_mm", existing_type=sa.Double(), nullable=True)
        for name in _CAR_FIGURES:
            cars.add_column(sa.Column(name, sa.Double, nullable=True))
    op.add_column("blocks", sa.Column("frame", sa.Text, nullable=False, server_default=""))
    op.create_table(
        "frames",
        sa.Column("car", sa.Integer, sa.ForeignKey("cars.number"), primary_key=True),
        sa.Column("place", sa.Integer, primary_key=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("name", "rear_on", "front_on")),
        *(
            sa.Column(name, sa.Double, nullable=False)
            for name in ("rear_support_mm", "front_support_mm")
        ),
    )
    op.create_table(
        "surveys",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("helix", sa.Integer, sa.ForeignKey("helices.number"), nullable=False),
        sa.Column("taken_on", sa.Text, nullable=False),
        sa.Column("change", sa.Integer, sa.ForeignKey("changes.number"), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
    )
