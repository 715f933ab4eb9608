"""Read a text file that a person made, whatever made it, or say in one line why not."""

from pathlib import Path

from catalog.errors import DataError

__all__ = ["read_text"]


def read_text(path: Path) -> str:
    """Read a whole UTF-8 file, with or without a byte order mark; line ends stay as they are.

    Raises
    ------
    DataError
        The file cannot be read, is not UTF-8, or is no text at all.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise DataError(f"{path}: cannot be read: {error.strerror}") from None
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise DataError(
            f"{path}, line {line}: byte 0x{raw[error.start]:02X} is not UTF-8; "
            f"save the file as UTF-8 (a spreadsheet calls it CSV UTF-8)"
        ) from None
    if "\0" in text:
        line = text.count("\n", 0, text.index("\0")) + 1
        raise DataError(
            f"{path}, line {line}: holds a NUL byte, so it is no text file; "
            f"save it again as UTF-8 text"
        )
    return text
