"""The ground: spectra, obstacles, courses and surveys in, wheel tracks out."""
