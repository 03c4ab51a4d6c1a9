"""Workers of a running dask cluster, for the commands that can use them."""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor
from contextlib import contextmanager

from burnerlab.tables.problem import Problem, UserError


@contextmanager
def cluster_executor(address: str) -> Iterator[Executor]:
    """The executor of the cluster at a scheduler's address; raises UserError where it cannot be had."""
    try:
        from distributed import Client
    except ImportError:
        fix = 'pip install "burnerlab[sweep]", or leave --cluster out'
        raise UserError(Problem("a cluster needs dask and distributed", key="--cluster", fix=fix)) from None
    try:
        client = Client(address, timeout=10)
    except (OSError, ValueError) as error:
        raise UserError(Problem("cannot be reached", address, "--cluster", fix=str(error)[:100])) from None
    with client:
        yield client.get_executor()
