from __future__ import annotations

import pytest

from wreckwright.trade.load import load_trade
from wreckwright.trade.types import Trade


@pytest.fixture(scope="session")
def trade() -> Trade:
    """The packaged trade data; frozen, so shared."""
    return load_trade()
