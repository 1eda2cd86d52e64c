"""Statistics of measurement: Student, conformity, precision of loads, scatter."""
