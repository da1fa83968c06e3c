"""Which folder may include which: the include table of DEVELOPERS.md against the sources."""

import fnmatch
import os
import unittest

import tree

# Prefix of a header -> library in the table's third column.
LIBRARIES = [("absl/", "absl"), ("boost/", "boost"), ("google/protobuf/", "protobuf"),
             ("grpcpp/", "grpc"),
             ("grpc/", "grpc"), ("SQLiteCpp/", "SQLiteCpp"), ("sqlite3.h", "SQLiteCpp"),
             ("libpq", "libpq"), ("postgresql/", "libpq"), ("openssl/", "openssl"),
             ("CLI/", "CLI11"), ("zint.h", "zint"), ("dlfcn.h", "loader"), ("ZXing/", "ZXing"), ("nlohmann/", "json"), ("sys/", "posix"), ("arpa/", "posix"),
             ("netinet/", "posix"), ("unistd.h", "posix"), ("fcntl.h", "posix"),
             ("signal.h", "posix"), ("spawn.h", "posix"), ("csignal", "posix"), ("poll.h", "posix"), ("pwd.h", "posix"),
             ("time.h", "posix"), ("endian.h", "posix"), ("stdlib.h", "posix"), ("dirent.h", "posix"), ("termios.h", "posix"),
             ("fstream", "files"), ("filesystem", "files"), ("cstdio", "files"),
             ("iostream", "files"), ("random", "chance"), ("chrono", "clock"), ("ctime", "clock"),
             ("thread", "threads"), ("mutex", "threads"), ("shared_mutex", "threads"),
             ("condition_variable", "threads"), ("future", "threads"), ("atomic", "threads")]
# Standard headers that are open to every folder.
PLAIN = {"algorithm", "array", "bit", "cassert", "cctype", "cerrno", "charconv", "cinttypes",
         "climits", "cmath", "compare", "concepts", "cstddef", "cstdint", "cstdlib", "cstring",
         "deque", "exception", "functional", "initializer_list", "iomanip", "iterator", "limits",
         "list", "map", "memory", "new", "numbers", "numeric", "optional", "queue", "ranges",
         "set", "span", "sstream", "stdexcept", "string", "string_view", "tuple", "type_traits",
         "typeinfo", "unordered_map", "unordered_set", "utility", "variant", "vector"}


def library_of(header):
    for prefix, library in LIBRARIES:
        if header == prefix or (prefix.endswith(("/", "libpq")) and header.startswith(prefix)):
            return library
    return None


def is_proto(header):
    return header.endswith(".pb.h")


class Includes(unittest.TestCase):
    maxDiff = None

    def setUp(self):
        self.table = tree.include_table()

    def test_the_table_is_there(self):
        self.assertGreater(len(self.table), 12)

    def test_every_folder_has_a_row_and_every_row_a_folder(self):
        folders = {os.path.dirname(path) for path in tree.sources("core", "service", "cli")}
        self.assertEqual(sorted(folders - set(self.table)), [], "folders without a row")
        rows = [row for row in self.table if "*" not in row and not tree.exists(row)]
        self.assertEqual(rows, [], "rows without a folder or file")

    def test_every_include_is_in_the_table(self):
        broken = []
        for path in tree.sources("core", "service", "cli"):
            folder = os.path.dirname(path)
            own, libraries = set(), set()
            for row, (more_own, more_libraries) in self.table.items():
                if row == folder or fnmatch.fnmatch(path, row):
                    own |= more_own
                    libraries |= more_libraries
            for number, header in tree.includes(path):
                if not self.allowed(folder, header, own, libraries):
                    broken.append(f"{path}:{number} may not include {header}")
        self.assertEqual(broken, [])

    def allowed(self, folder, header, own, libraries):
        if header.split("/")[0] in ("core", "service", "cli", "tests"):
            other = os.path.dirname(header)
            return other == folder or other in own or header in own
        if is_proto(header):
            return "proto" in own and ("grpc" in libraries or not header.endswith(".grpc.pb.h"))
        if header in PLAIN:
            return True
        return library_of(header) in libraries

    def test_includes_of_ours_exist_and_are_written_from_the_root(self):
        broken = [f"{path}:{number} {header}"
                  for path in tree.sources() for number, header in tree.includes(path)
                  if header.endswith(".h") and not is_proto(header) and not library_of(header)
                  and not header.startswith(("gtest/", "gmock/", "google/"))
                  and not tree.exists(header)]
        self.assertEqual(broken, [])

    def test_the_table_has_no_circle(self):
        def reach(folder, path):
            self.assertNotIn(folder, path, "a circle")
            for other in sorted(self.table.get(folder, ((), ()))[0]):
                reach(other, path + [folder])
        for folder in self.table:
            reach(folder, [])

    def test_pure_folders_reach_only_pure_ones_and_no_machine(self):
        for folder in tree.PURE:
            own, libraries = self.table[folder]
            strange = own - set(tree.PURE) - {"proto", "core/time"}
            self.assertEqual(strange, set(), folder)
            seeded = {"chance"} if folder == "core/demo" else set()  # the seed is an argument
            allowed = {"absl", "boost", "protobuf", "json"} | seeded
            self.assertEqual(libraries - allowed, set(), folder)


if __name__ == "__main__":
    unittest.main()
