"""The environment of a program whose date is wrong (wrong_clock.cc); time that is measured goes on as
ever."""

import os
import time

from depot_servers import SOURCE

LIBRARY = os.environ.get("FERRULE_WRONG_CLOCK") or os.path.join(
    SOURCE, "build/checked/tests/faults/libwrong_clock.so")
DAY_S = 86_400


def off_by(seconds):
    if not os.path.exists(LIBRARY):
        raise RuntimeError(f"{LIBRARY} is not built: cmake --build --preset checked --target "
                           "wrong_clock")
    return {"LD_PRELOAD": LIBRARY, "FERRULE_CLOCK_OFFSET_S": str(int(seconds))}


def starting_at(seconds):
    """A clock that says so many seconds since 1970 now."""
    return off_by(seconds - time.time())
