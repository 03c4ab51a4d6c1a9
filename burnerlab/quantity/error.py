"""Complaints about what a user wrote, as the room of tables declares them."""

from __future__ import annotations
