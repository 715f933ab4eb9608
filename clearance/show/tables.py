"""The two kinds of table that every text output uses."""

from rich.table import Table

__all__ = ["fact_table", "plain_table"]


def plain_table(*columns: str) -> Table:
    """A table without rules, its columns folded where the terminal is narrow."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for column in columns:
        table.add_column(column, overflow="fold")
    return table


def fact_table() -> Table:
    """Name and value, a line each."""
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 2), show_header=False)
    table.add_column(style="dim", no_wrap=True)
    table.add_column(overflow="fold")
    return table
