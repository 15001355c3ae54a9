"""The command line: one module per stage, each a thin door to borewright.work and the calculation packages."""
