"""What every table of the site file has in common: frozen, strict, hyphens in its keys."""

from __future__ import annotations

from pydantic import BaseModel, ConfigDict

__all__ = ["Table"]


def _hyphens(name: str) -> str:
    """Return the key that a field has in the file: ``keep_out`` is written ``keep-out``."""
    return name.replace("_", "-")


class Table(BaseModel):
    """A table of the site file: frozen, strict, without keys that nobody reads."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, alias_generator=_hyphens)
