"""The order of the tree: what is where, how large, tested by what, and words that stay out."""

import os
import re
import unittest

import tree

# Spelled in pieces so that this file may be searched too.
BANNED = [r"\b" + a + b + r"\b" for a, b in
          (("TO", "DO"), ("FIX", "ME"), ("XX", "X"), ("NO", "LINT"), ("HA", "CK"))]
BANNED += ["/wo" + "rk/", "/fa" + "rm/", "GTEST_" + "SKIP", "DIS" + "ABLED_", r"unittest\.s" + "kip",
           "self" + r"\.skipTest", "clang-" + "format off"]
LINES = 700
WORDS = 1_200  # lines of the words: a fact and its message stand in one file


class Sources(unittest.TestCase):
    maxDiff = None

    def test_the_top_level_is_fixed(self):
        names = {name for name in os.listdir(tree.ROOT)
                 if not name.startswith(".") and not re.fullmatch(r"build.*", name)}
        self.assertEqual(names - tree.TOP, set(), "what is this at the top level?")
        self.assertEqual(tree.TOP - names, set(), "missing at the top level")

    def test_every_core_source_has_its_test(self):
        """core/unit/ready.cc has tests/core/unit/ready_test.cc, or is named by a test
        in a line such as "// Tests core/unit/custody.cc, core/unit/assembly.cc." near its top. The
        sources in no_test_of_their_own.txt are still owed one."""
        owed = set(tree.read("tests/tidy/no_test_of_their_own.txt").splitlines())
        missing = []
        for path in tree.files("core", ends=(".cc",)):
            if not tree.exists(f"tests/{path[:-3]}_test.cc") and path not in self.named() | owed:
                missing.append(path)
        self.assertEqual(missing, [], "core sources without a test")

    def test_tests_name_only_sources_that_exist(self):
        self.assertEqual([path for path in sorted(self.named()) if not tree.exists(path)], [])

    def named(self):
        return {path for test in tree.files("tests", ends=("_test.cc",))
                for line in tree.read(test).splitlines()[:20] if line.startswith("// ")
                for path in re.findall(r"(?<!tests/)core/[\w/]+\.cc", line)}

    def test_every_source_is_built(self):
        dead = []
        for path in tree.files("core", "service", "cli", "tests", ends=(".cc", ".sql")):
            folder, name = os.path.split(path)
            above = [folder, os.path.dirname(folder)]
            text = "".join(tree.read(f"{f}/CMakeLists.txt") for f in above
                           if tree.exists(f"{f}/CMakeLists.txt"))
            if not re.search(rf"(^|[\s/(]){re.escape(name)}\b", text) and not (
                    name.endswith(".sql") and "*.sql" in text):
                dead.append(path)
        self.assertEqual(dead, [])

    def test_every_header_says_what_it_is_for(self):
        for path in tree.files("core", "service", "cli", "tests", ends=(".h",)):
            lines = tree.read(path).splitlines()
            self.assertTrue(lines and lines[0].startswith("// "), f"{path} begins without a purpose")
            self.assertIn("#pragma once", lines, path)

    def test_no_source_is_longer_than_a_reader_can_hold(self):
        long = {path: count for path in tree.files(ends=(".h", ".cc", ".py", ".proto", ".sql"))
                if (count := tree.read(path).count("\n")) >
                (WORDS if path.endswith(".proto") else LINES)}
        self.assertEqual(long, {})

    def test_file_names_are_the_depots_own_nouns(self):
        for path in tree.sources():
            name = os.path.basename(path)
            self.assertRegex(name, r"^[a-z0-9_]+\.(h|cc)$")
            self.assertNotRegex(name, r"(^|_)(util|utils|helper|helpers|manager|misc|common)[_.]")

    def test_banned_words_stay_out(self):
        pattern = re.compile("|".join(BANNED))
        found = []
        for path in tree.files() + [".ci/run", ".gitignore"]:
            if path == "LICENSE":
                continue
            for number, line in enumerate(tree.read(path).splitlines(), 1):
                if pattern.search(line):
                    found.append(f"{path}:{number}: {line.strip()}")
        self.assertEqual(found, [])

    def test_no_code_file_swallows_an_exception_away_from_the_store(self):
        found = [path for path in tree.sources("core") if not path.startswith("core/store/sqlite")
                 and re.search(r"\b(try|catch|throw)\b\s*[({;]", tree.read(path))]
        self.assertEqual(found, [])

    def test_pages_name_only_paths_that_exist(self):
        wrong = []
        for page in tree.files(ends=(".md",)):
            for path in re.findall(r"`((?:cli|core|deploy|proto|service|tests)/[\w./-]*)`",
                                   tree.read(page)):
                if not tree.exists(path):
                    wrong.append(f"{page}: {path}")
            for link in re.findall(r"\]\(([^)#:]+)\)", tree.read(page)):
                if not tree.exists(os.path.join(os.path.dirname(page), link)):
                    wrong.append(f"{page}: {link}")
        self.assertEqual(wrong, [])


if __name__ == "__main__":
    unittest.main()
