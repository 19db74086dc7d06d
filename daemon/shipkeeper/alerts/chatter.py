"""Chatter: an alert that comes and goes is folded into one that stays, and never dropped.

Three raises in a minute or five in ten (ISA-18.2 practice) and its off-delay is lengthened, so
that it stands through the dips; how often it came back is counted, and a caution says so.
"""

from __future__ import annotations

from .desk import CHATTER, OWN_KIND, Desk, Instance, own_verdict


def count(desk: Desk, instance: Instance, at_s: float) -> None:
    """Count this raise; begin to fold when there were too many."""
    record, timings = instance.record, desk.timings
    recent = [t for t in record.raises if at_s - t < timings.chatter_slow_s]
    record.raises = (*recent, at_s)
    fast = sum(1 for t in record.raises if at_s - t < timings.chatter_s)
    if fast < timings.chatter_raises and len(record.raises) < timings.chatter_raises_slow:
        return
    record.chattering = True
    if instance.slug != OWN_KIND:
        facts = {"what": "chatter", "alert": record.id, "count": len(record.raises)}
        desk.own_words.append((own_verdict(f"{CHATTER}{record.id}", True, facts), at_s))
