# SPDX-License-Identifier: MIT
"""
Keys of the store against Python's uuid and RFC 9562: the layout (section 5.7), the example
(appendix A.6), and that later keys sort after earlier ones (section 6.2).
"""
import random
import sys
import uuid

from told import Checks, ask

chance = random.Random(20261125)


def check_example():
    """Appendix A.6: unix_ts_ms 0x017F22E279B0, rand_a 0xCC3, rand_b 0x18C4DC0C0C07398F."""
    checks = Checks()
    checks.add(
        f'uuid7 {0x017F22E279B0} {0xCC3} 18c4dc0c0c07398f', '017f22e2-79b0-7cc3-98c4-dc0c0c07398f'
    )
    return len(checks.differences())


def wrong_parts(ms, count, octets, told):
    key = uuid.UUID(told)
    return (
        str(key) != told
        or key.variant != uuid.RFC_4122
        or key.version != 7
        or key.int >> 80 != ms
        or key.int >> 64 & 0xFFF != count
        or key.int & (1 << 62) - 1 != int.from_bytes(octets, 'big') & (1 << 62) - 1
    )


def check_parts():
    parts = [
        (ms, count, octets)
        for ms in (0, 1, 2**48 - 1)
        for count in (0, 0xFFF)
        for octets in (bytes(8), b'\xff' * 8)
    ]
    parts += [
        (chance.randrange(2**48), chance.randrange(0x1000), chance.randbytes(8))
        for _ in range(20000)
    ]
    told = ask([f'uuid7 {ms} {count} {octets.hex()}' for ms, count, octets in parts])
    wrong = [(p, t) for p, t in zip(parts, told) if wrong_parts(*p, t)]
    for (ms, count, octets), key in wrong[:10]:
        print(f'ms {ms} count {count} octets {octets.hex()}: told {key}')
    return len(wrong)


def check_order():
    """The clock stands still long enough to use up the counter, runs, and steps back."""
    now, clock = 1764074730000, []
    clock += [now] * 10000
    for _ in range(10000):
        now += chance.choice((0, 0, 1, 2, 1000, -1, -5000))
        clock.append(now)
    keys = [uuid.UUID(k) for k in ask([f'uuid7-next {ms}' for ms in clock])]
    wrong = 0
    for i, (ms, key) in enumerate(zip(clock, keys)):
        ordered = i == 0 or keys[i - 1].int < key.int and str(keys[i - 1]) < str(key)
        # no older than the clock, and ahead of the newest time by a counter's rollover or two at
        # most
        near = ms <= key.int >> 80 <= max(clock[: i + 1]) + 4
        if not ordered or not near or key.version != 7 or key.variant != uuid.RFC_4122:
            wrong += 1
            print(f'key {i} at {ms}: {keys[i - 1]}, then {key}')
            if wrong == 10:
                break
    randoms = {key.int & (1 << 62) - 1 for key in keys}
    if len(randoms) != len(keys):
        print(f'{len(keys)} keys have only {len(randoms)} random parts')
        wrong += 1
    return wrong


differ = check_example() + check_parts() + check_order()
print(f'{differ} differ')
sys.exit(1 if differ else 0)
