"""The two faces of the program: the pages and the command line."""
