"""What holds for every test."""

from hypothesis import settings

# No test depends on timing: a busy machine must not fail a property.
settings.register_profile("house", deadline=None)
settings.load_profile("house")
