"""The environment of a program whose clock is wrong, through libfaketime: only the date is another
one, time that is measured goes on as ever."""

import glob

LIBRARIES = glob.glob("/usr/lib/*/faketime/libfaketimeMT.so.1")


def environment(offset):
    """A clock that is off by so much ("+10y", "-400d"), or starts at a moment ("@1970-01-02 00:00:00")."""
    if not LIBRARIES:
        raise RuntimeError("libfaketime is missing: apt-get install libfaketime")
    return {"LD_PRELOAD": LIBRARIES[0], "FAKETIME": offset, "FAKETIME_DONT_FAKE_MONOTONIC": "1",
            "TZ": "UTC"}
