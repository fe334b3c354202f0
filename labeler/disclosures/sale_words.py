"""The few words that stand for a verdict on sale, and what they mean, wherever it is printed."""

from __future__ import annotations

from labeler.disclosures.sale import Status

SHORT = {
    Status.FREE: "free",
    Status.NOT_HELD: "not held",
    Status.DISCLOSURE: "notice",
    Status.RESTRICTED: "use limited",
    Status.BARRED: "not sold",
}
"""What stands in a cell: short, because many stand side by side."""

MEANS = {
    Status.FREE: "none of the rules held here stands against it",
    Status.DISCLOSURE: "disclosure needed: it may be sold with the notice that the rule asks for",
    Status.RESTRICTED: "use restricted: it may be sold, but not fished everywhere",
    Status.BARRED: "it may not be sold there",
    Status.NOT_HELD: "no rules of that place are held here, which is not the same as free",
}
"""What a cell's words mean, from the best to the worst."""
