"""Charts of a results Dataset: the common look, the kinds of charts, and the catalogue."""
