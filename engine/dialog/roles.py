"""Roles."""

from engine.dialog.script import Role

__all__ = ["Role"]
