"""The command line: one module a command.

Goes in: the arguments. Comes out: text or JSON on the terminal.
"""
