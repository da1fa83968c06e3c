"""The environment of a program under test that is to see nothing of the caller's own."""

import os


def bare(**names):
    """A search path, what the sanitizers go by, and what is given."""
    kept = {name: value for name, value in os.environ.items() if name.endswith("SAN_OPTIONS")}
    return {"PATH": os.environ["PATH"], **kept, **names}
