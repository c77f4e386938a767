# SPDX-License-Identifier: MIT
"""A disk with a volatile write cache, for a virtual machine: what was written since the last flush may be lost when the
power goes. QEMU reaches it by the NBD protocol over a UNIX socket.
Protocol: github.com/NetworkBlockDevice/nbd, doc/proto.md, "fixed newstyle" and the simple replies; QEMU's own client is
the check of it."""
import os
import socket
import struct

# Written whole or not at all: the unit of a disk of 4 KiB sectors, and ext4's block. With 512 octets ext4 itself was
# seen to fail: a torn superblock or commit block of its journal has a wrong checksum, and the disk isn't mounted.
SECTOR = 4096
OPTION_MAGIC, REPLY_MAGIC, REQUEST_MAGIC, ANSWER_MAGIC = b"IHAVEOPT", 0x3e889045565a9, 0x25609513, 0x67446698
FIXED_NEWSTYLE, NO_ZEROES = 1, 2
OPTION_ABORT, OPTION_GO = 2, 7
REPLY_ACK, REPLY_INFO, REPLY_UNSUPPORTED = 1, 3, 1 << 31 | 1
INFO_EXPORT, INFO_BLOCK_SIZE = 0, 3
HAS_FLAGS, SEND_FLUSH, SEND_FUA = 1, 4, 8
READ, WRITE, DISCONNECT, FLUSH = range(4)
FUA = 1  # of a request: on the platter before it is answered
EINVAL = 22


class PowerCut(Exception):
    pass


class Disk:
    """The image is in memory, and lasts as long as this object. versions: of each sector written since the last flush,
    what it held at the flush and at each write since, oldest first."""
    def __init__(self, image, path):
        self.image, self.path = bytearray(image), path
        self.versions = {}
        self.connection, self.held = None, b""
        self.left = None  # writes and flushes until the power is cut; None: never

    def listen(self):
        if os.path.exists(self.path):
            os.unlink(self.path)
        self.listener = socket.socket(socket.AF_UNIX)
        self.listener.bind(self.path)
        self.listener.listen(1)

    def accept(self):
        self.connection, _ = self.listener.accept()
        self.listener.close()
        self.held, self.turn = b"", self.on_client_flags
        self.connection.sendall(b"NBDMAGIC" + OPTION_MAGIC + struct.pack(">H", FIXED_NEWSTYLE | NO_ZEROES))

    def receive(self):
        """What has come; raises PowerCut in the middle of the request that was counted down to."""
        octets = self.connection.recv(1 << 20)
        if not octets:
            raise SystemExit("power: QEMU left its disk")
        self.held += octets
        used = self.turn()
        while used:
            self.held = self.held[used:]
            used = self.turn()

    # Each of these looks at what is held, and returns how many octets it used; 0: not enough yet.

    def on_client_flags(self):
        self.turn = self.on_option if len(self.held) >= 4 else self.turn
        return 4 if len(self.held) >= 4 else 0

    def on_option(self):
        if len(self.held) < 16:
            return 0
        _, option, n = struct.unpack_from(">8sII", self.held)
        if len(self.held) < 16 + n:
            return 0
        if option == OPTION_GO:
            flags = HAS_FLAGS | SEND_FLUSH | SEND_FUA
            self.reply(option, REPLY_INFO, struct.pack(">HQH", INFO_EXPORT, len(self.image), flags))
            self.reply(option, REPLY_INFO, struct.pack(">HIII", INFO_BLOCK_SIZE, SECTOR, SECTOR, 1 << 25))
            self.reply(option, REPLY_ACK)
            self.turn = self.on_request
        else:
            self.reply(option, REPLY_ACK if option == OPTION_ABORT else REPLY_UNSUPPORTED)
        return 16 + n

    def reply(self, option, kind, data=b""):
        self.connection.sendall(struct.pack(">QIII", REPLY_MAGIC, option, kind, len(data)) + data)

    def on_request(self):
        if len(self.held) < 28:
            return 0
        magic, flags, kind, cookie, at, n = struct.unpack_from(">IHHQQI", self.held)
        whole = 28 + (n if kind == WRITE else 0)
        if len(self.held) < whole:
            return 0
        if magic != REQUEST_MAGIC:
            raise SystemExit("power: that is no NBD request")
        error, data = 0, b""
        if kind == READ:
            data = bytes(self.image[at:at + n])
        elif kind == WRITE:
            self.write(at, self.held[28:whole], flags & FUA)
        elif kind == FLUSH:
            self.count()
            self.versions.clear()
        elif kind != DISCONNECT:
            error = EINVAL
        if kind != DISCONNECT:
            self.connection.sendall(struct.pack(">IIQ", ANSWER_MAGIC, error, cookie) + data)
        return whole

    def write(self, at, data, through):
        places = range(at, at + len(data), SECTOR)
        for place in places:
            versions = self.versions.setdefault(place, [bytes(self.image[place:place + SECTOR])])
            versions.append(data[place - at:place - at + SECTOR])
        self.image[at:at + len(data)] = data
        self.count()
        if through:
            for place in places:
                del self.versions[place]

    def count(self):
        if self.left is not None:
            self.left -= 1
            if self.left <= 0:
                raise PowerCut

    def lose_power(self, choose):
        """choose(n) of a sector's n versions: which one is left on it."""
        lost = 0
        for place, versions in sorted(self.versions.items()):
            chosen = versions[choose(len(versions))]
            lost += chosen != versions[-1]
            self.image[place:place + SECTOR] = chosen
        self.versions.clear()
        self.connection.close()
        self.connection = None
        return lost
