"""The registries together: every kind of rule, input and outlet that orders may name."""

from __future__ import annotations

from ..inputs import INPUTS
from ..inputs.button import ButtonOrders
from ..orders import Kinds
from ..outlets import OUTLETS
from ..rules import RULES
from ..words.handling import Handling

KINDS = Kinds(rules=RULES, inputs=INPUTS, outlets=OUTLETS, extra=(Handling, ButtonOrders))
