"""The ways out: one file a kind, one registry line each."""

from __future__ import annotations

from ..words.orders import OutletTable

OUTLETS: tuple[type[OutletTable], ...] = ()
