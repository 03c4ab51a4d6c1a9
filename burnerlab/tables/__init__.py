"""Where is this number from: data rows with their source, place and provenance.

A table is a CSV in ``tables/data``; each row names its ``source`` (an id of ``tables/sources/*.toml``), the ``place``
in it and its ``provenance``. A user's own table is read by the reader that reads ours. The gas files of ``fuels/`` and
the check values of ``shared/`` are found here too.
"""

from __future__ import annotations

from burnerlab.tables.csv_file import Row, meant, read_csv, records, text_of
from burnerlab.tables.figure import End, Figure, Source, cite, figure, figure_of, figures, sources, unknown
from burnerlab.tables.folders import folder, package_dir
from burnerlab.tables.reader import (
    CONTENTS,
    NUMBER,
    OPTION_OF,
    PROVENANCES,
    cache_by_file,
    check,
    names,
    read,
    rows,
)

__all__ = [
    "CONTENTS",
    "NUMBER",
    "OPTION_OF",
    "PROVENANCES",
    "End",
    "Figure",
    "Row",
    "Source",
    "cache_by_file",
    "check",
    "cite",
    "figure",
    "figure_of",
    "figures",
    "folder",
    "meant",
    "names",
    "package_dir",
    "read",
    "read_csv",
    "records",
    "rows",
    "sources",
    "text_of",
    "unknown",
]
