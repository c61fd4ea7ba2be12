"""The reading of a chart: keys, numerals, functions, and which scale fits each chord and why."""
