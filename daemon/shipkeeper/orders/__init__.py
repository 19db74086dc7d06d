"""The orders file: TOML to typed orders, or every problem at once."""

from .entries import Kinds
from .explaining import explain
from .load import load, read, read_file
from .problems import BadOrders, Problem, told

__all__ = ["BadOrders", "Kinds", "Problem", "explain", "load", "read", "read_file", "told"]
