"""Running order: the search over stages, covers and calendar, and its checker. Imports futures and record."""
