"""What the pure folders' object code calls: no clock, chance, file, environment or thread."""

import os
import re
import subprocess
import unittest

import tree

C = {"clock_gettime", "gettimeofday", "time", "localtime", "localtime_r", "rand", "srand", "random",
     "rand_r", "getentropy", "getrandom", "open", "open64", "openat", "fopen", "fopen64", "getenv",
     "secure_getenv", "setenv", "socket", "pthread_create", "system", "usleep", "nanosleep"}
CPP = re.compile(r"std::chrono::.*::now\(|std::random_device|absl::.*\bNow\(|LoadTimeZone|"
                 r"LocalTimeZone|std::basic_[io]?fstream|std::basic_filebuf|std::filesystem|"
                 r"std::thread|absl::SleepFor|absl::.*BitGen|SQLite::|sqlite3_|PQ[a-z]+|grpc::")
# A zone's rules are files of the machine; core/time alone loads them.
EXEMPT = {("core_time", "civil.cc.o"): re.compile(r"LoadTimeZone"),
          ("core_time", "clock.cc.o"): re.compile(r"absl::.*\bNow\(|std::chrono::.*::now\(|"
                                                  r"clock_gettime")}


def undefined(archive):
    """(object, symbol) for each symbol that the archive's objects take from elsewhere."""
    text = subprocess.run(["nm", "-C", "-u", archive], check=True, capture_output=True,
                          text=True).stdout
    member = ""
    for line in text.splitlines():
        if line.endswith(":") and not line.startswith(" "):
            member = line[:-1]
        elif line.strip().startswith("U "):
            yield member, line.strip()[2:].strip()


def forbidden(symbol):
    return symbol.split("@")[0] in C or CPP.search(symbol) is not None


class Archives(unittest.TestCase):
    maxDiff = None

    def test_the_list_of_symbols_catches_what_it_should(self):
        for symbol in ("clock_gettime", "fopen64@GLIBC_2.2", "absl::debian3::Now()",
                       "std::chrono::_V2::system_clock::now()", "std::random_device::_M_getval()"):
            self.assertTrue(forbidden(symbol), symbol)
        for symbol in ("absl::debian3::TimeZone::At(absl::debian3::Time) const", "memcpy",
                       "google::protobuf::Message::New() const"):
            self.assertFalse(forbidden(symbol), symbol)

    def test_pure_folders_call_nothing_of_the_machine(self):
        broken = []
        for folder in ["core/time"] + tree.PURE:
            name = folder.replace("/", "_")
            archive = os.path.join(tree.BINARY, folder, f"lib{name}.a")
            self.assertTrue(os.path.exists(archive), f"{archive} is not built")
            count = 0
            for member, symbol in undefined(archive):
                count += 1
                exempt = EXEMPT.get((name, member))
                if forbidden(symbol) and not (exempt and exempt.search(symbol)):
                    broken.append(f"{name} {member} calls {symbol}")
            self.assertGreater(count, 0, archive)
        self.assertEqual(broken, [])


if __name__ == "__main__":
    unittest.main()
