"""Which statements a product needs where it is sold, and whether it may be sold there at all.

The rules are data beside their sources, one TOML file a market: ``us.toml``, ``us-ca.toml``,
``eu.toml``. ``house.toml`` holds what no law asks and the trade does anyway, ``form.toml`` how
large and how clear a declaration must stand, ``places.toml`` what countries and states are
called. A new place of sale is a new file here, and nothing else.

``rules`` says what a rule is; ``market_rules`` reads the files, a market's when it is asked for,
and holds rules against a product. On these stand ``needed`` (what a piece or a price list must
say, how large, and what the catalog leaves open), ``sale`` (may it be sold there) and ``wording``
(claims and figures that may not stand).

None of this is legal advice. The law is longer than a table, changes, and is read by courts, not
by programs: each rule names its source, the day it was read and how far it is to be trusted.
"""

__all__ = ("market_rules", "needed", "rules", "sale", "statements", "wording")
