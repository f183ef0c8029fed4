"""``python -m crossaxle``: the command line."""

from crossaxle.studies.cli.main import main

main()
