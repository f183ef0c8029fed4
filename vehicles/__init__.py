"""The truck: vehicle file, sections, ladder frame, suspension, mounts and tanks in, one elastic structure out."""
