"""Borewright: the record, the reckoning and the papers of a water bore, from the first phone call to handover."""

__version__ = "0.1.0"
