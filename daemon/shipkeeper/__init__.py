"""shipkeeper: keeps watch over a boat when nobody looks at a screen."""

__version__ = "0.1.0"
