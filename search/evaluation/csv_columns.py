"""Read some columns of a CSV file that somebody made in another program."""

import csv
from collections.abc import Mapping
from pathlib import Path

from kb.errors import BenchloreError


def read_columns(path: Path, columns: Mapping[str, str]) -> list[tuple[str, dict[str, str]]]:
    """Return the place of each row ("list.csv:12") and its values.

    Args:
        path: the file, in UTF-8, column names in its first line.
        columns: the file's column for each name of a value.

    Raises:
        BenchloreError: it cannot be read or lacks a column; the message names the place and the remedy.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            reader = csv.DictReader(file)
            names = reader.fieldnames or []
            for column in columns.values():
                if column not in names:
                    raise BenchloreError(
                        f"{path.name}:1: no column {column!r}; the columns are {', '.join(names)}"
                    )
            return [
                (
                    f"{path.name}:{reader.line_num}",
                    {name: row[column] or "" for name, column in columns.items()},
                )
                for row in reader
            ]
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise BenchloreError(f"{path.name}: cannot be read as a CSV file in UTF-8: {error}") from error
