# SPDX-License-Identifier: MIT
"""The server's side of the Attribute Protocol, as much as a scale needs: a table of attributes, requests in, answers
out. Bluetooth Core Specification, Vol 3, Part F (protocol) and Part G (services, characteristics, descriptors)."""
import struct

MTU = 23  # the smallest, and the default, of LE (Part F, 3.2.8; Part G, 5.2.1)
READ, INDICATE = 0x02, 0x20  # characteristic properties (Part G, 3.3.1.1)
PRIMARY_SERVICE, CHARACTERISTIC = 0x2800, 0x2803
BASE_UUID = bytes.fromhex("fb349b5f8000008000100000")  # the first 12 octets of an assigned one (Part B, 2.5.1)
# Part F, 3.4.8
ERROR, MTU_REQUEST, FIND_INFORMATION, FIND_BY_TYPE_VALUE, READ_BY_TYPE = 0x01, 0x02, 0x04, 0x06, 0x08
READ_REQUEST, READ_BLOB, READ_BY_GROUP_TYPE, WRITE_REQUEST, WRITE_COMMAND = 0x0a, 0x0c, 0x10, 0x12, 0x52
INDICATION, CONFIRMATION = 0x1d, 0x1e
IS_COMMAND = 0x40
# Part F, 3.4.1.1
INVALID_HANDLE, READ_NOT_PERMITTED, WRITE_NOT_PERMITTED, INVALID_PDU = 0x01, 0x02, 0x03, 0x04
NOT_SUPPORTED, INVALID_OFFSET, NOT_FOUND = 0x06, 0x07, 0x0a


class Refused(Exception):
    def __init__(self, code, handle):
        super().__init__()
        self.code, self.handle = code, handle


class Attribute:
    def __init__(self, handle, uuid, value, writable=False):
        self.handle, self.uuid, self.value, self.writable = handle, uuid, value, writable


def indication(attribute, value):
    return struct.pack("<BH", INDICATION, attribute.handle) + value


def short_uuid(octets):
    """0 for a UUID that isn't an assigned 16-bit number: nothing here has it."""
    if len(octets) == 16 and octets[:12] == BASE_UUID and octets[14:] == bytes(2):
        octets = octets[12:14]
    return struct.unpack("<H", octets)[0] if len(octets) == 2 else 0


def alike(entries):
    """As many as fit an answer with two octets before them, all of the first one's length (Part F, 3.4.4.2)."""
    entries = [entry for entry in entries if len(entry) == len(entries[0])]
    return b"".join(entries[:(MTU - 2) // len(entries[0])])


class Table:
    def __init__(self):
        self.attributes = []
        self.requests = {
            MTU_REQUEST: self.mtu, FIND_INFORMATION: self.find_information,
            FIND_BY_TYPE_VALUE: self.find_by_type_value, READ_BY_TYPE: self.read_by_type, READ_REQUEST: self.read,
            READ_BLOB: self.read_blob, READ_BY_GROUP_TYPE: self.read_by_group_type, WRITE_REQUEST: self.write}

    def add(self, *more):
        attribute = Attribute(len(self.attributes) + 1, *more)
        self.attributes.append(attribute)
        return attribute

    def service(self, uuid):
        self.add(PRIMARY_SERVICE, struct.pack("<H", uuid))

    def characteristic(self, uuid, properties, value):
        """A value of None can't be read."""
        self.add(CHARACTERISTIC, struct.pack("<BHH", properties, len(self.attributes) + 2, uuid))
        return self.add(uuid, value)

    def descriptor(self, uuid, value):
        """It can be written."""
        return self.add(uuid, value, True)

    def answer(self, pdu):
        """To a request; None to a command, which is ignored."""
        if pdu[0] & IS_COMMAND:
            return None
        try:
            if pdu[0] not in self.requests:
                raise Refused(NOT_SUPPORTED, 0)
            return bytes([pdu[0] + 1]) + self.requests[pdu[0]](pdu[1:])
        except struct.error:
            return struct.pack("<BBHB", ERROR, pdu[0], 0, INVALID_PDU)
        except Refused as refused:
            return struct.pack("<BBHB", ERROR, pdu[0], refused.handle, refused.code)

    def at(self, handle):
        if not 1 <= handle <= len(self.attributes):
            raise Refused(INVALID_HANDLE, handle)
        return self.attributes[handle - 1]

    def between(self, body):
        """Those in the range that begins the request; never none."""
        first, last = struct.unpack_from("<HH", body)
        if first == 0 or first > last:
            raise Refused(INVALID_HANDLE, first)
        return [a for a in self.attributes if first <= a.handle <= last]

    def group_end(self, service):
        later = [a.handle for a in self.attributes if a.uuid == PRIMARY_SERVICE and a.handle > service.handle]
        return min(later) - 1 if later else len(self.attributes)

    def mtu(self, body):
        struct.unpack("<H", body)
        return struct.pack("<H", MTU)

    def find_information(self, body):
        found = [struct.pack("<HH", a.handle, a.uuid) for a in self.between(body)]
        if not found:
            raise Refused(NOT_FOUND, struct.unpack_from("<H", body)[0])
        return b"\x01" + alike(found)  # format 1: 16-bit UUIDs

    def of_type(self, body, uuid):
        found = [a for a in self.between(body) if a.uuid == uuid]
        if not found:
            raise Refused(NOT_FOUND, struct.unpack_from("<H", body)[0])
        return found

    def find_by_type_value(self, body):
        _, _, uuid = struct.unpack_from("<HHH", body)
        found = [struct.pack("<HH", a.handle, self.group_end(a))
                 for a in self.of_type(body, uuid) if a.value == body[6:]]
        if not found:
            raise Refused(NOT_FOUND, struct.unpack_from("<H", body)[0])
        return alike(found)

    def read_by_type(self, body):
        found = self.of_type(body, short_uuid(body[4:]))
        if found[0].value is None:
            raise Refused(READ_NOT_PERMITTED, found[0].handle)
        entries = [struct.pack("<H", a.handle) + a.value[:MTU - 4] for a in found if a.value is not None]
        return bytes([len(entries[0])]) + alike(entries)

    def read_by_group_type(self, body):
        entries = [struct.pack("<HH", a.handle, self.group_end(a)) + a.value
                   for a in self.of_type(body, short_uuid(body[4:]))]
        return bytes([len(entries[0])]) + alike(entries)

    def readable(self, handle):
        attribute = self.at(handle)
        if attribute.value is None:
            raise Refused(READ_NOT_PERMITTED, handle)
        return attribute.value

    def read(self, body):
        return self.readable(*struct.unpack("<H", body))[:MTU - 1]

    def read_blob(self, body):
        handle, offset = struct.unpack("<HH", body)
        value = self.readable(handle)
        if offset > len(value):
            raise Refused(INVALID_OFFSET, handle)
        return value[offset:offset + MTU - 1]

    def write(self, body):
        attribute = self.at(struct.unpack_from("<H", body)[0])
        if not attribute.writable:
            raise Refused(WRITE_NOT_PERMITTED, attribute.handle)
        attribute.value = body[2:]
        return b""
