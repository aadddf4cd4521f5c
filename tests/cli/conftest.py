"""What the tests of commands share."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.memory import Memory


@pytest.fixture
def memory(tmp_path: Path) -> Memory:
    """An empty memory beside two record files."""
    return Memory(tmp_path)


@pytest.fixture(autouse=True)
def no_data_of_the_user(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No test may come near the data folder of whoever runs it."""
    monkeypatch.setenv("WRECKWRIGHT_DATA", str(tmp_path / "unnamed"))
