"""Where the package keeps its data: its own folder, ``fuels``, ``shared`` and ``notebooks``."""

from __future__ import annotations

from importlib.resources import files
from pathlib import Path


def package_dir() -> Path:
    return Path(str(files("burnerlab")))


def data_dir() -> Path:
    """The folder of the shipped tables."""
    return package_dir() / "tables" / "data"


def folder(name: str) -> Path:
    """The folder ``fuels``, ``shared`` or ``notebooks``: inside an installed package, else beside it in a checkout.

    >>> folder("fuels").name
    'fuels'
    """
    shipped = package_dir() / "_data" / name
    return shipped if shipped.is_dir() else package_dir().parent / name
