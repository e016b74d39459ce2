"""What all requests share: the open notebook, saving, errors in plain words, and protection."""
