"""What a study states: its file, sweep, uncertain values, limits and aims, and the shipped files it may refer to."""
