"""Real receivers and senders on loopback, for tests and the demo: nothing here is pretended."""

from .phone import Phone
from .sentences import PtyPair, SentenceServer
from .syslog import SyslogTcp, SyslogUdp, SyslogUnix

__all__ = ["Phone", "PtyPair", "SentenceServer", "SyslogTcp", "SyslogUdp", "SyslogUnix"]
