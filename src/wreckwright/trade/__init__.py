"""The trade's knowledge as data: rows with their basis, and the loader that checks them. No other code."""
