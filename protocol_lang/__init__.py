"""A language for infection control protocols in dental imaging, and the engine that proves them."""

__version__ = "0.1.0"
