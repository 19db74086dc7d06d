"""The orders file: TOML to typed orders, or every problem at once."""

from .changed import BadKey, find_rule, with_value
from .entries import Kinds
from .explaining import explain
from .load import load, read, read_file
from .problems import BadOrders, Problem, told

__all__ = [
    "BadKey",
    "BadOrders",
    "Kinds",
    "Problem",
    "explain",
    "find_rule",
    "load",
    "read",
    "read_file",
    "told",
    "with_value",
]
