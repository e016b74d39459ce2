"""Run the command line as `python -m web.cli`."""

from web.cli.main import main

main()
