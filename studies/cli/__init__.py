"""The command line: commands, their options and messages, and the main job from study file to report."""
