"""Answers as tables: for spreadsheets and other programs."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING

from wreckwright.papers.words import minor_per_major

if TYPE_CHECKING:
    from wreckwright.answers.types import Foresight


def foresight_csv(answer: Foresight) -> str:
    """The two distributions of a foresight as CSV (RFC 4180), one line a figure.

    `finished_by`: the share (0..1) of all futures that is finished between the day of the answer and the end of the
    day `to`. `left_over`: the share of all futures in which the sum left over lies between `from` and `to`, in whole
    units of the currency that stands under `unit`.
    """
    per = minor_per_major(answer.currency)
    text = io.StringIO()
    lines = csv.writer(text)
    lines.writerow(["what", "from", "to", "unit", "share"])
    lines.writerows(
        ["finished_by", answer.as_of, point.date, "day", f"{point.share:.4f}"] for point in answer.finish_curve
    )
    lines.writerows(
        ["left_over", one.from_minor / per, one.to_minor / per, answer.currency, f"{one.share:.4f}"]
        for one in answer.net_bins
    )
    return text.getvalue()
