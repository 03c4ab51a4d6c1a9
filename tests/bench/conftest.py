"""A disk of one mebibyte, for what happens when it is full."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    folder = tmp_path / "disk"
    folder.mkdir()
    if (
        not shutil.which("mount")
        or subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=1200k", "tmpfs", str(folder)],
            capture_output=True,
            check=False,
        ).returncode
    ):
        pytest.skip("cannot mount a small disk here")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)
