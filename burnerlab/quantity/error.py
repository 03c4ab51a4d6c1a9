"""Complaints about what a user wrote, as the room of tables declares them."""

from __future__ import annotations

from burnerlab.tables.problem import Problem, UserError, did_you_mean

__all__ = ["Problem", "UserError", "did_you_mean"]
