"""Disks of the test's own: small ones that can be filled, and one that the kernel turns read-only.

They are mounted where only this process and what it starts see them, and are gone with it. Import it
before anything that starts threads, as gRPC does.
"""

import ctypes
import os
import subprocess

CLONE_NEWNS, CLONE_NEWUSER = 0x00020000, 0x10000000
MS_REMOUNT, MS_REC, MS_PRIVATE = 32, 16384, 1 << 18
_libc = ctypes.CDLL(None, use_errno=True)
_own = False
_why_not = None


def _check(result, what):
    if result != 0:
        error = ctypes.get_errno()
        raise OSError(error, f"{what}: {os.strerror(error)}; mounting needs root, or a kernel that "
                      "lets users have namespaces")


def _mount(source, target, kind, flags, data=""):
    _check(_libc.mount(source.encode(), target.encode(), kind.encode(), ctypes.c_ulong(flags),
                       data.encode()), f"mount {target}")


def own_mounts():
    """From here on mounts of this process are its own, where that is allowed."""
    global _own, _why_not
    if _own or _why_not:
        return
    try:
        _leave_the_others()
        _own = True
    except OSError as error:
        _why_not = str(error)


def _need():
    own_mounts()
    if _why_not:
        raise unittest.SkipTest(_why_not)


def _leave_the_others():
    user, group = os.getuid(), os.getgid()
    if user == 0:
        _check(_libc.unshare(CLONE_NEWNS), "unshare")
    else:
        _check(_libc.unshare(CLONE_NEWNS | CLONE_NEWUSER), "unshare")
        for name, text in (("setgroups", "deny"), ("uid_map", f"{user} {user} 1"),
                           ("gid_map", f"{group} {group} 1")):
            with open(f"/proc/self/{name}", "w", encoding="ascii") as file:
                file.write(text)
    _mount("none", "/", "", MS_REC | MS_PRIVATE)


class SmallDisk:
    """A disk of so many KiB at a folder."""

    def __init__(self, folder, kib):
        _need()
        self.folder = folder
        os.makedirs(folder, exist_ok=True)
        _mount("none", folder, "tmpfs", 0, f"size={kib}k,mode=755")
        self._fill = os.path.join(folder, "fill")

    def leave(self, kib):
        """Fills it but for so many KiB."""
        self.room()
        disk = os.statvfs(self.folder)
        size = disk.f_bavail * disk.f_frsize - kib * 1024
        with open(self._fill, "wb") as file:
            while size > 0:
                size -= file.write(bytes(min(size, 1 << 20)))

    def room(self):
        """Takes away what filled it."""
        if os.path.exists(self._fill):
            os.remove(self._fill)

    def files(self):
        return sorted(name for name in os.listdir(self.folder) if name != "fill")

    def end(self):
        _libc.umount2(self.folder.encode(), 2)


class FailingDisk:
    """An ext4 of its own in an image; fail() does to it what the kernel does after an error of the
    disk: it is read-only from then on, also for files that are open."""

    def __init__(self, image, folder, mib=64):
        _need()
        self.folder = folder
        os.makedirs(folder, exist_ok=True)
        with open(image, "wb") as file:
            file.truncate(mib << 20)
        subprocess.run(["/sbin/mkfs.ext4", "-q", "-F", image], check=True, capture_output=True)
        done = subprocess.run(["mount", "-o", "loop", image, folder], check=False,
                              capture_output=True, text=True)
        if done.returncode != 0:
            raise unittest.SkipTest(f"no disk can be made of a file here: {done.stderr.strip()}")

    def fail(self):
        subprocess.run(["mount", "-o", "remount,abort", self.folder], check=True,
                       capture_output=True)

    def end(self):
        subprocess.run(["umount", "-l", self.folder], check=False, capture_output=True)
