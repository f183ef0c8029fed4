"""The shop's clearance sheet: its numbers, layout and drawing, as SVG, PDF, PNG or DXF."""
