"""Engineering: pure functions of numbers with units, each citing its source. Imports the trade tables."""
