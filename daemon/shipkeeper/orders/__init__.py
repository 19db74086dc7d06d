"""The orders file: TOML to typed orders, or every problem at once."""

from .load import Kinds, load, read, read_file
from .problems import BadOrders, Problem

__all__ = ["BadOrders", "Kinds", "Problem", "load", "read", "read_file"]
