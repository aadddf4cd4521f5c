"""An old telephone at the far end of the garage: what a page costs there, in bytes and in time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

CPU_SLOWER = 4
LATENCY_MS = 30
DOWN_BYTES_PER_S = UP_BYTES_PER_S = 8_000_000 // 8

FIRST_TAP = """
(() => {
  // As an impatient thumb: taps in every frame from the moment there is something to tap.
  let done = false;
  addEventListener("DOMContentLoaded", () => {
    const list = document.getElementById("kept");
    const button = document.querySelector(".five button");
    if (!button || !list) return;
    const press = () => {
      if (done) return;
      button.click();
      if (list.children.length) {
        done = true;
        requestAnimationFrame(() => setTimeout(() => { window.firstTapMs = performance.now(); }));
      } else requestAnimationFrame(press);
    };
    requestAnimationFrame(press);
  });
})();
"""
"""Run before a page: puts into `firstTapMs` when the first tap was to be seen, in ms from the begin of the loading."""

TAP_SHOWN = """
window.tapsMs = [];
new PerformanceObserver((seen) => {
  for (const entry of seen.getEntries()) {
    if (entry.name === "click" && entry.target?.closest(".five button")) window.tapsMs.push(entry.duration);
  }
}).observe({ type: "event", durationThreshold: 16, buffered: true });
"""
"""Run before a page: collects in `tapsMs` how long each tap took from the lifted finger to the next painted frame.

As the browser measures it (Event Timing API, W3C), in steps of 8 ms; what is below 16 ms is not reported."""

PICTURES_SHOWN = """() => [...document.images].every(
  (image) => image.naturalWidth > 0 || image.getBoundingClientRect().top > innerHeight)"""
"""Pictures further down are asked for when somebody comes near them."""

FIRST_PAINT = """() => performance.getEntriesByName("first-contentful-paint")[0]?.startTime"""


@dataclass(frozen=True)
class Cost:
    """What came over the wire for one page, nothing of it in the cache. Photographs are counted apart."""

    page_bytes: int
    photograph_bytes: int
    requests: int


def slow_down(page: Any) -> None:
    """Make this page that of an old telephone in a weak network."""
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": CPU_SLOWER})
    session.send("Network.enable")
    session.send(
        "Network.emulateNetworkConditions",
        {
            "offline": False,
            "latency": LATENCY_MS,
            "downloadThroughput": DOWN_BYTES_PER_S,
            "uploadThroughput": UP_BYTES_PER_S,
        },
    )


def cost_of(page: Any, address: str) -> Cost:
    """Load a page and add up what came."""
    finished: list[Any] = []

    def note(request: Any) -> None:
        finished.append(request)

    page.on("requestfinished", note)
    answer = page.goto(address)
    assert answer.status == 200, address
    page.wait_for_load_state("networkidle")
    page.wait_for_function(PICTURES_SHOWN)
    page.remove_listener("requestfinished", note)
    page_bytes = photograph_bytes = 0
    for request in finished:
        sizes = request.sizes()
        size = sizes["responseBodySize"] + sizes["responseHeadersSize"]
        if "/picture/" in request.url:
            photograph_bytes += size
        else:
            page_bytes += size
    return Cost(page_bytes, photograph_bytes, len(finished))
