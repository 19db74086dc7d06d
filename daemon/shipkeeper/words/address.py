"""Addresses in the orders: host:port, or a port alone."""

from __future__ import annotations


def host_port(text: str, default_host: str = "") -> tuple[str, int]:
    """'192.0.2.1:10110' -> its parts; '[::1]:10110' too. Raises ValueError."""
    host, separator, port = text.rpartition(":")
    if not separator:
        host, port = default_host, text
    number = int(port)
    if not 0 < number < 65_536:
        raise ValueError(text)
    return host.strip("[]") or default_host, number


def bad_address(key: str, text: str, *, host_needed: bool = True) -> list[tuple[str, str]]:
    """The problem with an address, if it has one."""
    try:
        host, _ = host_port(text)
    except ValueError:
        return [(key, f'expected "host:port", for example "192.0.2.10:10110"; found "{text}"')]
    if host_needed and not host:
        return [(key, f'expected a host before the port; found "{text}"')]
    return []
