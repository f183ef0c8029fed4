"""A course described: in numbers, in words and as a chart."""
