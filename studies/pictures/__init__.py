"""Pictures and films of a truck in a posture, and figures as files."""
