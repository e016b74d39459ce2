"""Scripts run by hand that measure the program."""

# Before numpy, as the program itself loads it: otherwise other threads are measured than it ever has.
import search  # noqa: F401
