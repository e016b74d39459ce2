"""The command line: one entry point, which loads a command only when it is asked for."""

import gc
import importlib
import keyword
from typing import Any

import click

from kb.errors import BenchloreError

# A command's module is imported when the command runs, so that a search starts without Flask and `--help`
# without the index. The texts are the first lines of the commands' own help; a test checks that.
COMMANDS = {
    "serve": ("web.cli.serve", "Serve the pages to this bench, or to the whole shop."),
    "search": ("web.cli.search", "Answer a complaint: causes, checks and past repairs."),
    "check": ("web.cli.notebook", "List everything in the notes that needs attention."),
    "index": ("web.cli.notebook", "Bring the index up to date with the notes."),
    "new": ("web.cli.new", "Write up a repair in your editor."),
    "family": ("web.cli.search", "Show what a chassis family is known for."),
    "import": ("web.cli.exchange", "Bring cases in from a CSV, xlsx or ods file."),
    "export": ("web.cli.exchange", "Take all cases out as CSV or JSON Lines."),
    "passphrase": ("web.cli.serve", "Set the passphrase with which other computers may write."),
    "evaluate": ("web.cli.evaluate", "Measure how good the answers are."),
}

# New objects before the garbage collector runs. With Python's own 700 it took a tenth of a search's time, and
# it finds little here.
gc.set_threshold(20_000)


class CommandLine(click.Group):
    """A group that imports a command when it is used, and shows the program's own errors as messages."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the commands in the order in which a technician meets them."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import and return one command."""
        if cmd_name not in COMMANDS:
            return None
        # No function can be called "import", so its name ends in an underscore.
        name = f"{cmd_name}_" if keyword.iskeyword(cmd_name) else cmd_name
        command = getattr(importlib.import_module(COMMANDS[cmd_name][0]), name)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """List the commands with their short help, importing none of them."""
        with formatter.section("Commands"):
            formatter.write_dl([(name, short) for name, (_, short) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; the program's own errors become a message and exit code 1."""
        try:
            return super().invoke(ctx)
        except BenchloreError as error:
            raise click.ClickException(str(error)) from error


@click.group(cls=CommandLine, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="benchlore", message="%(package)s %(version)s")
def main() -> None:
    """Turn a complaint into past repairs, likely causes and an order of checks.

    The notebook is a folder of markdown notes: --notebook, else BENCHLORE_NOTEBOOK, else the user's data
    folder.
    """
