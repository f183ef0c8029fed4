"""The command line: reads options, says what went wrong in one message, and leaves the work to others.

Everything heavy is imported inside the commands, so that ``--help`` answers at once. Exit status: 0 done, 1 stopped
or failed although the input was good, 2 bad input.
"""

import io
import os
import sys

import click

from crossaxle.studies.cli.bench_commands import calibrate, ground, pedestal
from crossaxle.studies.cli.clearance_commands import clearances
from crossaxle.studies.cli.results_commands import rare, replay
from crossaxle.studies.cli.study_commands import check, example, report, run


def main() -> None:
    """Run the command line; linear algebra stays on one thread, so that results do not depend on cores."""
    for stream in (sys.stdout, sys.stderr):  # a console of another encoding shows ? for what it lacks
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    for name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
        os.environ[name] = "1"
    cli(prog_name="crossaxle")


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def cli() -> None:
    """Compute what rough ground does to a stiff body on a flexible truck frame.

    Start with `crossaxle example DIR`, then `crossaxle run DIR/study.toml --out RESULTS`.
    """


for command in (example, check, run, report, ground, pedestal, replay, rare, calibrate, clearances):
    cli.add_command(command)
