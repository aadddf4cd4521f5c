"""The machines in the memory for somebody who is not on the pages: kept answers only, nothing is reckoned."""

from __future__ import annotations

from wreckwright.acts.checks import trade_data
from wreckwright.acts.page_shapes import MachinesPage
from wreckwright.acts.place import Place, memory_if_any


def overview(place: Place) -> MachinesPage:
    """All machines in the owner's order; none if there is no memory. Raises StoreError."""
    store = memory_if_any(place)
    if store is None:
        return MachinesPage(machines=())
    from wreckwright.acts.page_machines import machines_page
    from wreckwright.acts.reckon import Reckoner

    with Reckoner(place) as reckoner, store.reading() as reader:
        return machines_page(reader, trade_data(), reckoner)
