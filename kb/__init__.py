"""The notebook: case and family notes in files, and the words of the trade."""
