"""The experiment: a structure on its ground, condensed, solved for contact and sampled."""
