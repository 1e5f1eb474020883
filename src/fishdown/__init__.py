"""fishdown: abundance, catchability and remaining biomass from fish-removal campaigns."""

__version__ = "0.1.0"
