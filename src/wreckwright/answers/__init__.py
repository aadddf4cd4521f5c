"""The answers, each read from the same futures, so that they cannot contradict each other.

- `foresight.foresight(futures) -> types.Foresight`
- `verdict.verdict(futures) -> types.Verdict`
- `bid.bid(futures) -> types.Bid`
- `fit.fit(machine, trade, *, damage, as_of) -> types.FitList`
- `running_order.running_order(futures, planned, drawn, trade, binding) -> plan_types.RunningOrder`
- `evening.evening(drawn, planned, trade) -> plan_types.Evening`, and from it, without any numeric library,
  `tonight.tonight(evening, hours) -> plan_types.Tonight`
- `next_step.next_step(known, trade, ...) -> types.NextStep`

`types` holds the results; `words` how chances and money are said.
"""
