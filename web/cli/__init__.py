"""Goes in: arguments. Comes out: text or JSON on the terminal. A module for each command or two."""
