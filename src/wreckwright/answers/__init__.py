"""The answers, each read from the same futures, so that they cannot contradict each other.

- `foresight.foresight(futures) -> types.Foresight`
- `verdict.verdict(futures) -> types.Verdict`
- `bid.bid(futures) -> types.Bid`
- `fit.fit(machine, trade, *, damage, as_of) -> types.FitList`

`types` holds the results; `words` how chances and money are said.
"""
