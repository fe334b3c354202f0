"""What every room's tests may ask for."""

from __future__ import annotations

import pytest


def pytest_addoption(parser: pytest.Parser) -> None:
    """Add the switch that draws the golden pages anew."""
    parser.addoption(
        "--golden-update", action="store_true", help="draw the golden pages anew, then look at them"
    )
