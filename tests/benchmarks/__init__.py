"""Speed, as figures and as ratios measured in one run on one machine."""
