"""What a run says, at a terminal: messages and progress on standard error, where results lie on standard output."""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import click
from tqdm import tqdm


class Terminal:
    """Shows what a run says."""

    def say(self, text: str) -> None:
        """Show a message."""
        click.echo(text, err=True)

    def result(self, text: str) -> None:
        """Show where a result lies."""
        click.echo(text)

    @contextmanager
    def progress(self, total: int, done: int) -> Iterator[Callable[[int], None]]:
        """Show a bar with the time left; what is given is called with the number of samples of every batch."""
        with tqdm(total=total, initial=done, unit="sample", file=sys.stderr) as bar:
            yield lambda samples: bar.update(samples) and None
