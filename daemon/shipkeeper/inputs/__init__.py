"""The wires in: one file a kind, one registry line each."""

from __future__ import annotations

from ..words.orders import InputTable

INPUTS: tuple[type[InputTable], ...] = ()
