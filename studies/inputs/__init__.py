"""Input files: from TOML text to validated models, quantities with units, and complaints about them."""
