"""One posture of one truck: its values and words, replay from results, its scene in space, level loads and slopes."""
