"""The drill's own wire and words, that its sender, the engine and its rule agree on."""

from __future__ import annotations

WIRE = "(drill)"  # no input of the orders can have this name and be told from it
MEASURED = "DRILL"
FRESH_S = 5.0  # a sender that is gone ends the drill
SEND_EVERY_S = 1.0
THROUGH = "drill"  # the daemon itself speaks; nobody else can say these
BEGINS, IS_OVER = "drill begins", "drill is over"
