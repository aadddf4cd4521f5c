"""What a face must know of a currency to show a sum of it."""

from __future__ import annotations

from wreckwright.record.money import minor_digits

__all__ = ["minor_digits"]
