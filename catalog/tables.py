"""The tables of a catalog, and the number of their shape.

``cars``, ``blocks``, ``frames`` and ``helices`` hold what is; ``car_history`` and
``helix_history`` hold what stood before; ``surveys`` holds every survey of a helix; ``changes``
holds who changed what and when, one row a command. A version of a car points at the change that
made it, and an approved survey at the one that approved it, so nothing is written twice.

What changes here needs a step in catalog/migrations, for the catalogs that people have.
"""

from sqlalchemy import Boolean, Column, Double, ForeignKey, Integer, MetaData, Table, Text, false

from catalog.columns import FIGURES, TEXTS
from catalog.parts import BLOCKS, FRAMES

__all__ = [
    "SCHEMA_NUMBER",
    "blocks",
    "car_history",
    "cars",
    "changes",
    "frames",
    "helices",
    "helix_history",
    "metadata",
    "schema",
    "surveys",
]

SCHEMA_NUMBER = 4
"""Grows with every change of the tables; a greater one comes from a newer program."""

MEASURED = ("height_mm", "width_mm", "length_mm", "truck_wheelbase_mm")
"""The figures that every car has."""

metadata = MetaData()

schema = Table("clearance_schema", metadata, Column("number", Integer, nullable=False))

changes = Table(
    "changes",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("what", Text, nullable=False),
    Column("made_at", Text, nullable=False),  # ISO, UTC
    Column("made_by", Text, nullable=False),
    Column("added", Integer, nullable=False),
    Column("changed", Integer, nullable=False),
    Column("unchanged", Integer, nullable=False),
)

cars = Table(
    "cars",
    metadata,
    # The row's own number keeps the order in which cars came, and lets a car get another id.
    Column("number", Integer, primary_key=True),
    Column("id", Text, nullable=False, unique=True),
    # With a default, a column that is blank in all of an import need not be written for each car.
    *(Column(name, Text, nullable=False, server_default="") for name in TEXTS if name != "id"),
    *(Column(name, Double, nullable=name not in MEASURED) for name in FIGURES),
    Column("version", Integer, nullable=False, server_default="1"),
    Column("retired", Boolean, nullable=False, server_default=false()),
    Column("change", ForeignKey(changes.c.number), nullable=False),
)

blocks = Table(
    "blocks",
    metadata,
    Column("car", ForeignKey(cars.c.number), primary_key=True),
    Column("place", Integer, primary_key=True),  # 0, 1, … within the car
    Column("name", Text, nullable=False),
    Column("frame", Text, nullable=False, server_default=""),
    *(Column(name, Double, nullable=False) for name in BLOCKS.figures),
)

frames = Table(
    "frames",
    metadata,
    Column("car", ForeignKey(cars.c.number), primary_key=True),
    Column("place", Integer, primary_key=True),  # 0, 1, … within the car
    *(Column(name, Text, nullable=False) for name in FRAMES.texts),
    *(Column(name, Double, nullable=False) for name in FRAMES.figures),
)

car_history = Table(
    "car_history",
    metadata,
    Column("car", ForeignKey(cars.c.number), primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("retired", Boolean, nullable=False),
    Column("change", ForeignKey(changes.c.number), nullable=False),
    Column("document", Text, nullable=False),  # the record with its parts, as JSON
)

helices = Table(
    "helices",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
    Column("document", Text, nullable=False),  # the record, as JSON
    Column("version", Integer, nullable=False),
    Column("retired", Boolean, nullable=False),
    Column("change", ForeignKey(changes.c.number), nullable=False),
)

helix_history = Table(
    "helix_history",
    metadata,
    Column("helix", ForeignKey(helices.c.number), primary_key=True),
    Column("version", Integer, primary_key=True),
    Column("retired", Boolean, nullable=False),
    Column("change", ForeignKey(changes.c.number), nullable=False),
    Column("document", Text, nullable=False),
)

surveys = Table(
    "surveys",
    metadata,
    Column("number", Integer, primary_key=True),
    Column("helix", ForeignKey(helices.c.number), nullable=False),
    Column("taken_on", Text, nullable=False),  # ISO; of a survey without a date, when it came
    Column("change", ForeignKey(changes.c.number), nullable=False),
    Column("document", Text, nullable=False),  # the record, as JSON
    Column("approved", ForeignKey(changes.c.number)),  # by which change; NULL: by none
)
