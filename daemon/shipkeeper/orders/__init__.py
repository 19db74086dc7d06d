"""The orders file: TOML to typed orders, or every problem at once."""
