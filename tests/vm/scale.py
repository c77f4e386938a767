#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: scale.py BTVIRT_SOCKET FIFO ADDRESS
A weight scale with a radio of its own: the host of one controller of "btvirt -s", no part of the machine that bismard
runs on. It answers discovery (att.py) and indicates; it keeps what it measured until somebody has confirmed it.
Reads commands from FIFO, one a line:   adv on   adv off   weigh HEX   drop   blink
(drops the link, and is on the air again at once instead of after a rest)
Writes one line an event, after the seconds since boot:   advertising   connected   disconnected   subscribed
unsubscribed   confirmed   feature read
Commands and events: Bluetooth Core Specification, Vol 4, Part E, 7; packets: Part A, 2; L2CAP: Vol 3, Part A, 3."""
import os
import select
import socket
import struct
import sys
import time
import att

COMMAND, ACL, EVENT = 1, 2, 4
DISCONNECT, SET_EVENT_MASK, RESET = 0x0406, 0x0c01, 0x0c03
LE_SET_EVENT_MASK, LE_SET_RANDOM_ADDRESS, LE_SET_ADV_PARAMETERS = 0x2001, 0x2005, 0x2006
LE_SET_ADV_DATA, LE_SET_ADV_ENABLE = 0x2008, 0x200a
DISCONNECTION_COMPLETE, COMMAND_COMPLETE, LE_META = 0x05, 0x0e, 0x3e
CONNECTION_COMPLETE = (0x01, 0x0a)  # LE, and the enhanced one, which begins alike
REMOTE_USER_ENDED = 0x13
CID_ATT, CID_SECURITY = 4, 6
PAIRING_FAILED_NOT_SUPPORTED = b"\x05\x05"  # Vol 3, Part H, 3.5.5
# btvirt reports an advertiser when it is switched on, and then never again: it is switched off and on.
REPEAT_S = 0.2
REST_S = 1  # after a link
NAME = b"Test scale"
# Flags: general discoverable, no BR/EDR; complete list of 16-bit services: 0x181D; complete name
# (Core Specification Supplement, Part A, 1).
ADVERTISEMENT = b"\x02\x01\x06" + b"\x03\x03\x1d\x18" + bytes([len(NAME) + 1]) + b"\x09" + NAME
# Weight Scale Feature: time stamp supported (bit 0), weight resolution code 7, 0.005 kg (bits 3 to 6)
# (org.bluetooth.characteristic.weight_scale_feature).
FEATURE = struct.pack("<I", 1 << 0 | 7 << 3)
GENERIC_WEIGHT_SCALE = struct.pack("<H", 0x0c80)  # appearance


def say(*words):
    with open("/proc/uptime") as f:
        print(f.read().split()[0], *words, flush=True)


class Radio:
    """Packets to and from the controller."""
    def __init__(self, path):
        self.socket = socket.socket(socket.AF_UNIX)
        self.socket.connect(path)
        self.held = b""

    def command(self, opcode, parameters=b""):
        self.socket.sendall(struct.pack("<BHB", COMMAND, opcode, len(parameters)) + parameters)

    def send(self, handle, cid, pdu):
        self.socket.sendall(struct.pack("<BHHHH", ACL, handle, len(pdu) + 4, len(pdu), cid) + pdu)

    def receive(self):
        """Whole packets: type and the rest."""
        octets = self.socket.recv(65536)
        if not octets:
            raise SystemExit("btvirt is gone")
        self.held += octets
        while len(self.held) >= 5 or self.held[:1] == bytes([EVENT]) and len(self.held) >= 3:
            n = 3 + self.held[2] if self.held[0] == EVENT else 5 + struct.unpack_from("<H", self.held, 3)[0]
            if len(self.held) < n:
                return
            packet, self.held = self.held[:n], self.held[n:]
            yield packet[0], packet[1:]


class Scale:
    def __init__(self, path, address):
        self.radio = Radio(path)
        self.wanted = True       # on the air when nobody is connected
        self.on_air = False
        self.handle = None       # of the link
        self.rest_until = 0      # monotonic
        self.blinks = False      # no rest after this link
        self.measured = []       # oldest first, until it is confirmed
        self.indicating = False  # the oldest was sent
        self.make_table()
        for opcode, parameters in (
                (RESET, b""), (SET_EVENT_MASK, b"\xff" * 7 + b"\x3f"), (LE_SET_EVENT_MASK, b"\xff" * 8),
                (LE_SET_RANDOM_ADDRESS, bytes.fromhex(address.replace(":", ""))[::-1]),
                # every 100 ms, connectable and undirected, own address random, all channels
                (LE_SET_ADV_PARAMETERS, struct.pack("<HHBBB6sBB", 160, 160, 0, 1, 0, bytes(6), 7, 0)),
                (LE_SET_ADV_DATA, bytes([len(ADVERTISEMENT)]) + ADVERTISEMENT.ljust(31, b"\0"))):
            self.radio.command(opcode, parameters)
        self.advertise()
        say("advertising")

    def make_table(self):
        self.table = table = att.Table()
        table.service(0x1800)
        table.characteristic(0x2a00, att.READ, NAME)
        table.characteristic(0x2a01, att.READ, GENERIC_WEIGHT_SCALE)
        table.service(0x1801)
        table.service(0x181d)
        self.feature = table.characteristic(0x2a9e, att.READ, FEATURE)
        self.measurement = table.characteristic(0x2a9d, att.INDICATE, None)
        self.cccd = table.descriptor(0x2902, bytes(2))

    def advertise(self):
        """Or stops, or does it again, which is how it is heard again."""
        if self.on_air:
            self.radio.command(LE_SET_ADV_ENABLE, b"\0")
        self.on_air = self.wanted and self.handle is None and time.monotonic() >= self.rest_until
        if self.on_air:
            self.radio.command(LE_SET_ADV_ENABLE, b"\1")

    def subscribed(self):
        return self.handle is not None and bool(self.cccd.value[0] & 2)

    def indicate(self):
        if self.measured and self.subscribed() and not self.indicating:
            self.indicating = True
            self.radio.send(self.handle, CID_ATT, att.indication(self.measurement, self.measured[0]))

    def confirmed(self):
        if self.indicating:
            say("confirmed")
            self.indicating = False
            del self.measured[0]

    def on_att(self, pdu):
        before = self.subscribed()
        if pdu[0] == att.CONFIRMATION:
            self.confirmed()
        else:
            answer = self.table.answer(pdu)
            if answer:
                self.radio.send(self.handle, CID_ATT, answer)
        if pdu[0] == att.READ_REQUEST and pdu[1:3] == struct.pack("<H", self.feature.handle):
            say("feature read")
        # a bluetoothd that takes over the link of the one before writes what stands there already
        written = pdu[0] == att.WRITE_REQUEST and pdu[1:3] == struct.pack("<H", self.cccd.handle)
        if self.subscribed() != before or (written and before):
            say("subscribed" if self.subscribed() else "unsubscribed")
        self.indicate()

    def on_acl(self, data):
        # The maximum of ATT that att.py answers with, 23, fits one fragment: none is ever continued.
        _, _, length, cid = struct.unpack_from("<HHHH", data)
        if cid == CID_ATT and length > 0:
            self.on_att(data[8:8 + length])
        elif cid == CID_SECURITY and data[8] != PAIRING_FAILED_NOT_SUPPORTED[0]:
            self.radio.send(self.handle, CID_SECURITY, PAIRING_FAILED_NOT_SUPPORTED)

    def on_connected(self, status, handle):
        if status == 0:
            say("connected")
            self.handle = handle
            self.advertise()  # no more: it may have been switched on again meanwhile

    def on_disconnected(self):
        say("disconnected")
        self.handle, self.indicating = None, False
        self.cccd.value = bytes(2)  # not bonded: it forgets (Vol 3, Part G, 3.3.3.3)
        self.rest_until = time.monotonic() + (0 if self.blinks else REST_S)
        self.blinks = False
        self.advertise()

    def on_refused(self, opcode, status):
        if opcode != LE_SET_ADV_ENABLE:  # which btvirt refuses when it is so already
            say("the controller refused 0x%04x: 0x%02x" % (opcode, status))

    def on_event(self, data):
        if data[0] == LE_META and data[2] in CONNECTION_COMPLETE:
            self.on_connected(*struct.unpack_from("<BH", data, 3))
        elif data[0] == DISCONNECTION_COMPLETE:
            self.on_disconnected()
        elif data[0] == COMMAND_COMPLETE and data[5] != 0:
            self.on_refused(*struct.unpack_from("<HB", data, 3))

    def on_radio(self):
        for kind, data in self.radio.receive():
            if kind == ACL:
                self.on_acl(data)
            elif kind == EVENT:
                self.on_event(data)

    def obey(self, words):
        say("command", *words)
        if words[0] == "adv":
            self.wanted = words[1] == "on"
            self.advertise()
        elif words[0] == "weigh":
            self.measured.append(bytes.fromhex(words[1]))
            self.indicate()
        elif words[0] in ("drop", "blink") and self.handle is not None:
            self.blinks = words[0] == "blink"
            self.radio.command(DISCONNECT, struct.pack("<HB", self.handle, REMOTE_USER_ENDED))


def open_commands(path):
    if not os.path.exists(path):
        os.mkfifo(path)
    return os.open(path, os.O_RDWR)  # also for writing: no end of file between two writers


def run(scale, commands):
    held = b""
    while True:
        ready, _, _ = select.select([scale.radio.socket, commands], [], [], REPEAT_S)
        if scale.radio.socket in ready:
            scale.on_radio()
        if commands in ready:
            *lines, held = (held + os.read(commands, 4096)).split(b"\n")
            for line in lines:
                scale.obey(line.decode().split())
        if not ready and scale.handle is None:
            scale.advertise()


run(Scale(sys.argv[1], sys.argv[3]), open_commands(sys.argv[2]))
