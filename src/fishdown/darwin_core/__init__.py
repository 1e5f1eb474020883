"""Catches and bycatch in the terms of Darwin Core, the exchange standard of biodiversity data."""
