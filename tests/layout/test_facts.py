"""What a layout is told about a product and its price."""

from __future__ import annotations

from decimal import Decimal

import pytest

from labeler.layout.facts import amount_text


@pytest.mark.parametrize(
    ("amount", "currency", "shown"),
    [
        ("4.95", "USD", "$4.95"), ("5", "USD", "$5.00"), ("0", "USD", "$0.00"),
        ("100", "GBP", "£100.00"), ("1234.5", "EUR", "€1,234.50"), ("0.125", "USD", "$0.125"),
        ("500", "JPY", "JPY\u00a0500"), ("49", "SEK", "SEK\u00a049.00"),
    ],
)  # fmt: skip
def test_a_price_is_written_as_its_currency_is(amount: str, currency: str, shown: str) -> None:
    """Minor units: ISO 4217, list one (from memory)."""
    assert amount_text(Decimal(amount), currency) == shown
