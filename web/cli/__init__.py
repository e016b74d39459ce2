"""Goes in: the arguments. Comes out: text or JSON on the terminal. One module a command or two."""
