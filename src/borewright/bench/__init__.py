"""The bench: single calculations, each declared once. See `borewright.bench.declare`."""
