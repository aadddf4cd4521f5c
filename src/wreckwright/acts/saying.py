"""What a face must know of the words inside an answer to set them into its own lines."""

from __future__ import annotations

from wreckwright.answers.words import driver_words

__all__ = ["driver_words"]
