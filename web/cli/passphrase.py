"""`benchlore passphrase`: let other computers of the shop write."""

import sys

import click

from web.server.access import SHORTEST, keep_hash, passphrase_file


@click.command(short_help="Set the passphrase with which other computers may write.")
@click.option("--remove", is_flag=True, help="Take it away: only this computer may write then.")
@click.option("--from-stdin", is_flag=True, help="Read it from standard input instead of asking.")
def passphrase(remove: bool, from_stdin: bool) -> None:
    """Set the passphrase with which other computers may write.

    It is kept as a hash in this user's settings, not in the notebook. A running server takes it up when it
    is started again.
    """
    path = passphrase_file()
    typed = ""
    if from_stdin:
        typed = sys.stdin.readline().rstrip("\n")
    elif not remove:
        typed = click.prompt("Passphrase", hide_input=True, confirmation_prompt=True)
    if not remove and len(typed) < SHORTEST:
        raise click.ClickException(f"too short; use at least {SHORTEST} characters, such as four words")
    try:
        keep_hash(path, "" if remove else typed)
    except OSError as error:
        raise click.ClickException(f"{path}: {error.strerror}; make it writable") from error
    click.echo("Only this computer may write now." if remove else f"Kept as a hash in {path}.")
