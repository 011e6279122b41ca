"""A broker of a few lines that sends numbered messages and watches what is acknowledged, and when.

It keeps to MQTT 3.1.1 (OASIS Standard, 29 October 2014) as far as a listener sees it: sections 3.1 to 3.4 and 3.8 to
3.14 for the packets, 4.4 for sending again what was not acknowledged, 4.6 for the order. It keeps one session, sends at
most 20 messages ahead of their acknowledgements, and asks `look` at each acknowledgement.
"""

import socket
import struct
import threading


class Witness:
    """`payloads` are sent in order with QoS 1 to `topic`. `acknowledged` are positions in the order of their
    acknowledgements; `early` those for which `look(position)` was false then; `sent_again` counts repeats."""

    def __init__(self, topic, payloads, look, window=20):
        self.topic, self.payloads, self.look, self.window = topic.encode(), payloads, look, window
        self.acknowledged, self.early, self.filters = [], [], []
        self.connections = self.sent_again = self.unclean = 0
        self.next = 0
        self.flying = {}  # packet identifier -> position
        self.sent = set()
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        threading.Thread(target=self._serve, daemon=True).start()

    @property
    def done(self):
        return len(set(self.acknowledged)) == len(self.payloads)

    def drop(self):
        """Close the present connection, as a network does that fails."""
        self.line.shutdown(socket.SHUT_RDWR)

    def close(self):
        self.server.close()

    def _serve(self):
        while True:
            try:
                line, _ = self.server.accept()
            except OSError:
                return
            self.connections, self.line = self.connections + 1, line
            try:
                self._talk(line)
            except (OSError, EOFError):
                pass
            finally:
                line.close()

    def _talk(self, line):
        kind, body = _packet(line)
        assert kind == 0x10
        assert not body[7] & 0x02, "the session must be a lasting one"
        present = bool(self.filters)
        line.sendall(bytes((0x20, 2, present, 0)))
        for mid in list(self.flying):
            self._publish(line, mid, again=True)
        self._fill(line)
        while True:
            kind, body = _packet(line)
            if kind == 0x40:
                self._acknowledge(struct.unpack("!H", body)[0])
                self._fill(line)
            elif kind == 0x82:
                asked = body[2:]
                qos = []
                while asked:
                    length = struct.unpack("!H", asked[:2])[0]
                    self.filters.append(asked[2 : 2 + length].decode())
                    qos.append(asked[2 + length])
                    asked = asked[3 + length :]
                line.sendall(bytes((0x90, 2 + len(qos))) + body[:2] + bytes(qos))
                self._fill(line)
            elif kind == 0xA2:
                line.sendall(bytes((0xB0, 2)) + body[:2])
            elif kind == 0xC0:
                line.sendall(bytes((0xD0, 0)))
            elif kind == 0xE0:
                return

    def _acknowledge(self, mid):
        position = self.flying.pop(mid)  # a number that was never sent is a fault of the listener
        if not self.look(position):
            self.early.append(position)
        self.acknowledged.append(position)

    def _fill(self, line):
        while self.filters and len(self.flying) < self.window and self.next < len(self.payloads):
            mid = self.next % 65_535 + 1
            self.flying[mid] = self.next
            self.next += 1
            self._publish(line, mid)

    def _publish(self, line, mid, again=False):
        self.sent_again += again
        body = (
            struct.pack("!H", len(self.topic)) + self.topic + struct.pack("!H", mid) + self.payloads[self.flying[mid]]
        )
        length, digits = len(body), bytearray()
        while True:
            length, digit = divmod(length, 128)
            digits.append(digit | (0x80 if length else 0))
            if not length:
                break
        line.sendall(bytes((0x32 | (0x08 if again else 0),)) + bytes(digits) + body)


def _packet(line):
    kind, length, shift = _exactly(line, 1)[0], 0, 0
    while True:
        digit = _exactly(line, 1)[0]
        length |= (digit & 0x7F) << shift
        shift += 7
        if not digit & 0x80:
            return kind, _exactly(line, length)


def _exactly(line, n):
    out = b""
    while len(out) < n:
        more = line.recv(n - len(out))
        if not more:
            raise EOFError
        out += more
    return out
