"""What to pay for a crash-damaged motorcycle, whether to go on with it, and when it will be done."""

__version__ = "0.1.0"
