"""The caller of the fault tests gets through lines on which a peer takes a connection and says
nothing, for ever or for a while: its attempt to connect ends neither too late nor too soon."""

import os
import socket
import tempfile
import threading
import unittest

from caller import Caller, settings
from depot_servers import Server

ENOUGH_S = 15  # less than gRPC's own 20 s for one attempt to connect


class SlowLine:
    """A line to a port of this machine. Connection n carries nothing until waits_s[n] are over, the
    last of them for all that follow; None is never."""

    def __init__(self, port, waits_s):
        self._to = port
        self._waits_s = waits_s
        self._over = threading.Event()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.address = f"127.0.0.1:{self._listener.getsockname()[1]}"
        self._open = []
        self.connections = 0
        threading.Thread(target=self._accept, daemon=True).start()

    def _accept(self):
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:
                return
            wait_s = self._waits_s[min(self.connections, len(self._waits_s) - 1)]
            self.connections += 1
            self._open.append(near)
            if wait_s is not None:
                threading.Thread(target=self._carry, args=(near, wait_s), daemon=True).start()

    def _carry(self, near, wait_s):
        if self._over.wait(wait_s):
            return
        far = socket.create_connection(("127.0.0.1", self._to))
        self._open.append(far)
        threading.Thread(target=self._pass, args=(far, near), daemon=True).start()
        self._pass(near, far)

    @staticmethod
    def _pass(source, sink):
        try:
            while data := source.recv(65536):
                sink.sendall(data)
            sink.shutdown(socket.SHUT_WR)
        except OSError:
            pass

    def end(self):
        self._over.set()
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        for sock in self._open:
            sock.close()


class CallerTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder = tempfile.TemporaryDirectory()
        cls.server = Server(["--depot", os.path.join(cls.folder.name, "depot.ferrule"), "--create"],
                            os.path.join(cls.folder.name, "log")).start()

    @classmethod
    def tearDownClass(cls):
        cls.server.end()
        cls.folder.cleanup()

    def over(self, *waits_s):
        """Records over such a line; how many connections that took."""
        line = SlowLine(self.server.port, waits_s)
        caller = Caller(line.address)
        try:
            self.assertEqual(caller.settle(settings(), seconds=ENOUGH_S).sequence, 1)
        finally:
            caller.close()
            line.end()
        return line.connections

    def test_a_connection_that_stays_silent_is_given_up_for_another(self):
        self.assertEqual(self.over(None, 0), 2)

    def test_a_connection_that_answers_late_is_waited_for(self):
        self.assertEqual(self.over(1.5), 1)


if __name__ == "__main__":
    unittest.main()
