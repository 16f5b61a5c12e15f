"""Workbooks: written with native formulas and values, read as packages, rewritten for other hosts."""
