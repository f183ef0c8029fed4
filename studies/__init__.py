"""The decision: study files, statistics, charts, report and the command line."""
