"""The first schema: cars with blocks, helices, and what stood before."""

import sqlalchemy as sa
from alembic import op

__all__ = ["down_revision", "revision", "upgrade"]

revision = "0001"
down_revision = None

_CAR_TEXTS = (
    "name",
    "kind",
    "owner",
    "notes",
    "dimensions",
    "weight",
    "measured_by",
    "measured_on",
)
_CAR_FIGURES = (
    "scale",
    "gauge_mm",
    "height_mm",
    "width_mm",
    "length_mm",
    "wheelbase_mm",
    "truck_wheelbase_mm",
    "front_overhang_mm",
    "rear_overhang_mm",
    "length_over_couplers_mm",
    "underside_mm",
    "minimum_radius_mm",
    "side_play_mm",
    "tolerance_mm",
)
_EVERY_CAR_HAS = ("height_mm", "width_mm", "length_mm", "wheelbase_mm", "truck_wheelbase_mm")
_BLOCK_FIGURES = ("from_mm", "to_mm", "left_mm", "right_mm", "bottom_mm", "top_mm")


def upgrade() -> None:
    """Make the tables."""
    op.create_table("clearance_schema", sa.Column("number", sa.Integer, nullable=False))
    op.create_table(
        "changes",
        sa.Column("number", sa.Integer, primary_key=True),
        *(sa.Column(name, sa.Text, nullable=False) for name in ("what", "made_at", "made_by")),
        *(sa.Column(n, sa.Integer, nullable=False) for n in ("added", "changed", "unchanged")),
    )
    op.create_table(
        "cars",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("id", sa.Text, nullable=False, unique=True),
        *(sa.Column(name, sa.Text, nullable=False, server_default="") for name in _CAR_TEXTS),
        *(sa.Column(name, sa.Double, nullable=name not in _EVERY_CAR_HAS) for name in _CAR_FIGURES),
        sa.Column("version", sa.Integer, nullable=False, server_default="1"),
        sa.Column("retired", sa.Boolean, nullable=False, server_default=sa.false()),
        sa.Column("change", sa.Integer, sa.ForeignKey("changes.number"), nullable=False),
    )
    op.create_table(
        "blocks",
        sa.Column("car", sa.Integer, sa.ForeignKey("cars.number"), primary_key=True),
        sa.Column("place", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False),
        *(sa.Column(name, sa.Double, nullable=False) for name in _BLOCK_FIGURES),
    )
    op.create_table(
        "helices",
        sa.Column("number", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, unique=True),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("version", sa.Integer, nullable=False),
        sa.Column("retired", sa.Boolean, nullable=False),
        sa.Column("change", sa.Integer, sa.ForeignKey("changes.number"), nullable=False),
    )
    for history, owner, owners in (
        ("car_history", "car", "cars"),
        ("helix_history", "helix", "helices"),
    ):
        op.create_table(
            history,
            sa.Column(owner, sa.Integer, sa.ForeignKey(f"{owners}.number"), primary_key=True),
            sa.Column("version", sa.Integer, primary_key=True),
            sa.Column("retired", sa.Boolean, nullable=False),
            sa.Column("change", sa.Integer, sa.ForeignKey("changes.number"), nullable=False),
            sa.Column("document", sa.Text, nullable=False),
        )
