"""What is installed works away from the tree: the programs, and the library for somebody else's
program; and the Debian packages hold what they should."""

import glob
import os
import re
import subprocess
import tempfile
import unittest

SOURCE = os.environ["FERRULE_SOURCE_DIR"]
BINARY = os.environ["FERRULE_BINARY_DIR"]


def run(*command, cwd=None, timeout=280):
    done = subprocess.run(command, cwd=cwd, capture_output=True, text=True, timeout=timeout,
                          check=False)
    if done.returncode != 0:
        raise AssertionError(f"{command}: {done.returncode}\n{done.stdout[-3000:]}{done.stderr[-3000:]}")
    return done.stdout


class Installed(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory()
        cls.addClassCleanup(folder.cleanup)
        cls.folder = folder.name
        cls.prefix = os.path.join(cls.folder, "prefix")
        run("cmake", "--install", BINARY, "--prefix", cls.prefix, "--strip")

    def test_the_programs_work_where_they_were_put(self):
        for program in ("ferrule", "ferruled"):
            said = run(os.path.join(self.prefix, "bin", program), "--version")
            self.assertRegex(said, r"\d+\.\d+\.\d+")
        depot = os.path.join(self.folder, "depot.ferrule")
        run(os.path.join(self.prefix, "bin/ferrule"), "--depot", depot, "init")
        self.assertIn("ok: 0 entries", run(os.path.join(self.prefix, "bin/ferruled"), "verify",
                                          "--depot", depot))

    def test_pages_and_completion_are_there(self):
        for path in ("share/man/man1/ferrule.1", "share/bash-completion/completions/ferrule",
                     "lib/systemd/system/ferruled.service", "share/doc/ferrule/copyright",
                     "share/doc/ferrule/runbook.md", "share/ferrule/postgres-roles.sql",
                     "share/ferrule/proto/ferrule/v1/facts.proto"):
            self.assertGreater(os.path.getsize(os.path.join(self.prefix, path)), 200, path)

    def test_another_program_builds_against_the_library(self):
        build = os.path.join(self.folder, "consumer")
        run("cmake", "-G", "Ninja", "-S", os.path.join(SOURCE, "tests/deploy/data/consumer"), "-B", build,
            "-DCMAKE_BUILD_TYPE=Debug", "-DCMAKE_CXX_FLAGS=-O0", "-DCMAKE_PREFIX_PATH=" + self.prefix)
        run("cmake", "--build", build)
        said = run(os.path.join(build, "consumer"), os.path.join(self.folder, "consumer.ferrule"))
        self.assertEqual(said, "entry 1: units/K-1 at north-dock\n")

    def test_no_header_names_the_tree(self):
        for path in glob.glob(os.path.join(self.prefix, "lib/**/cmake/ferrule/*.cmake"),
                              recursive=True):
            with open(path, encoding="utf-8") as file:
                self.assertNotIn(SOURCE, file.read(), path)


class Package(unittest.TestCase):
    def test_the_package_holds_the_programs_and_says_what_it_needs(self):
        with tempfile.TemporaryDirectory() as folder:
            run("cpack", "--config", os.path.join(BINARY, "CPackConfig.cmake"), "-G", "DEB", "-B",
                folder, "-D", "CPACK_COMPONENTS_ALL=runtime", cwd=folder)
            packages = glob.glob(os.path.join(folder, "*.deb"))
            self.assertEqual(len(packages), 1, packages)
            fields = run("dpkg-deb", "--field", packages[0])
            self.assertRegex(fields, r"(?m)^Package: ferrule$")
            self.assertRegex(fields, r"(?m)^Depends: .*libc6")
            self.assertRegex(fields, r"(?m)^Depends: .*libpq5")
            self.assertRegex(fields, r"(?m)^Maintainer: \S")
            held = run("dpkg-deb", "--contents", packages[0])
            for path in ("./usr/bin/ferrule", "./usr/bin/ferruled",
                         "./usr/lib/systemd/system/ferruled.service",
                         "./usr/share/doc/ferrule/copyright", "./usr/share/man/man1/ferrule.1"):
                self.assertIn(path, held)
            # Nobody but root may change what is installed.
            for line in held.splitlines():
                self.assertRegex(line, r"root/root", line)
                self.assertFalse(re.match(r"^-.......w", line), line)


if __name__ == "__main__":
    unittest.main()
