"""Pages, JSON interface and command line."""
