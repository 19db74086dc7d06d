"""The way to a server of the Signal K format: its table in the orders, and the connection."""

from __future__ import annotations

import ssl
from typing import TYPE_CHECKING

import msgspec

from ..words import delta
from ..words.wires import SecretReader

if TYPE_CHECKING:
    from websockets.sync.client import ClientConnection

OPEN_S = 5.0


class SignalK(msgspec.Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """`{ address = "host:port", token = "credential:signalk-token" }`, as a kind of an input or
    an outlet."""

    address: str
    token: str = ""  # the secret's name
    tls: bool = False
    ca: str = ""


class Refused(OSError):
    """There is a server, and it does not let us in; the text says why."""


def connect(orders: SignalK, secret: SecretReader | None) -> ClientConnection:
    """Raises OSError or ValueError when there is no connection, ImportError without the extra."""
    from websockets.exceptions import InvalidHandshake
    from websockets.sync.client import connect as dial

    headers = {}
    if orders.token and secret is not None:
        headers["Authorization"] = f"Bearer {secret(orders.token)}"
    context = ssl.create_default_context(cafile=orders.ca or None) if orders.tls else None
    try:
        return dial(
            delta.url(orders.address, orders.tls, "none"), additional_headers=headers,
            ssl=context, open_timeout=OPEN_S, close_timeout=1.0, max_size=delta.MOST_BYTES,
        )  # fmt: skip
    except InvalidHandshake as error:
        status = getattr(getattr(error, "response", None), "status_code", None)
        said = "refuses the token" if status in (401, 403) else "is no such server"
        raise Refused(said) from None


def why_not(error: Exception) -> str:
    """Why there is no connection, to be said after the server's name."""
    if isinstance(error, ImportError):
        return "needs the extra: pip install 'shipkeeper[signalk]'"
    if isinstance(error, Refused):
        return str(error)
    if isinstance(error, ssl.SSLCertVerificationError):
        return "has a certificate that is not trusted"
    if isinstance(error, TimeoutError):
        return "does not answer"
    return f"does not answer: {getattr(error, 'strerror', None) or error}"
