# SPDX-License-Identifier: MIT
"""
What the checks of this folder share: they ask the program `tell` (the first argument) and count
what differs.
"""
import subprocess
import sys

SHOWN = 10  # differences


class Checks:
    """
    Questions with the answer that the reference gives; a set of answers when more than one is
    right.
    """

    def __init__(self):
        self.requests = []
        self.expected = []

    def add(self, request, *answers):
        self.requests.append(request)
        self.expected.append(answers)

    def differences(self):
        told = ask(self.requests)
        return [(r, e, t) for r, e, t in zip(self.requests, self.expected, told) if t not in e]

    def finish(self):
        """Asks all, prints the first differences, and ends the program."""
        wrong = self.differences()
        for request, expected, told in wrong[:SHOWN]:
            print(f'{request!r}: expected {" or ".join(map(repr, expected))}, told {told!r}')
        print(f'{len(self.requests)} checked, {len(wrong)} differ')
        sys.exit(1 if wrong or not self.requests else 0)


def ask(requests):
    """The answers to all requests, in their order."""
    run = subprocess.run(
        [sys.argv[1]], input='\n'.join(requests) + '\n', capture_output=True, text=True
    )
    if run.returncode != 0:
        sys.exit(f'tell ended with {run.returncode}: {run.stderr}')
    told = run.stdout.split('\n')[:-1]
    if len(told) != len(requests):
        sys.exit(f'{len(requests)} requests, {len(told)} answers')
    return told
