"""The pedestal test: computed, drawn, as a sheet for the workshop, and readings of a real one fitted."""
