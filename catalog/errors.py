"""What can go wrong that a person can put right, as one family.

    ClearanceError          one sentence: what, where, and what would be right
    ├── DataError           a file, a row, a figure or the catalog is wrong     exit status 1
    │   ├── LengthError     a text that is not one clear length
    │   └── StoreError      the catalog is missing, damaged, busy or newer
    └── UsageError          the command was typed wrong                         exit status 2

Only the command line turns these into a line on the screen and an exit status.
"""

__all__ = ["ClearanceError", "DataError", "LengthError", "StoreError", "UsageError"]


class ClearanceError(Exception):
    """Something that a person can put right, told in one sentence."""

    exit_status = 1


class DataError(ClearanceError):
    """A file, a row or a figure is wrong."""


class LengthError(DataError):
    """A text is not one clear length."""


class StoreError(DataError):
    """The catalog is missing, damaged, busy, or written by a newer program."""


class UsageError(ClearanceError):
    """The command was typed wrong."""

    exit_status = 2
