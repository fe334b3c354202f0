"""Which substance a name means, however a maker writes it: lead, Pb, lead (hard), tin-lead."""

from __future__ import annotations

import re
from functools import lru_cache

LEAD = ("lead", "Pb")
"""The metal's name and its symbol. Source: IUPAC, Periodic Table of the Elements, element 82."""


@lru_cache(maxsize=4096)
def means(name: str, substances: tuple[str, ...]) -> bool:
    """Tell whether ``name`` names one of ``substances``, as whole words in any case.

    ``tin-lead`` and ``lead (pure)`` mean lead; ``lead-free tin`` and ``leader`` do not.
    """
    plain = _words(name)
    return any(
        re.search(rf"(?<!non )(?<!no )\b{re.escape(_words(substance))}\b(?! free)", plain)
        for substance in substances
    )


def _words(text: str) -> str:
    return " ".join(re.findall(r"\w+", text.casefold()))
