#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""
usage: test_evening.py BUILD [CASE...]
An evening at the box with all hands at once, against the real bismard and the simulated scale: eight pups are weighed before they feed
and after, answered on the phone, at the number pad and by a word on the socket, in turn; slips are taken back, the phone and
the pad answer the same question. What each of them shows and says is held to the database. The pad is a recording of struct
input_event (as in tests/bus/test_keypad.c), the voice the real espeak-ng, into files.
"""
import os
import socket
import struct

import browser
from rig import Rig, run_cases
from test_round import PUPS, choose, pair

EV_SYN, EV_KEY, EV_MSC, MSC_SCAN = 0, 1, 4, 4                                  # linux/input-event-codes.h
KEYS = {'1': 79, '2': 80, '3': 81, '4': 75, '5': 76, '6': 77, '7': 71, '8': 72, '9': 73, 'minus': 74, 'slash': 98, 'numlock': 69}
PAUSE_S = 60  # between two keys, on the recording's clock: longer than any rule of the keypad


class Pad:
    def __init__(self, rig):
        self.rig, self.now, self.path = rig, 1000, str(rig.dir / 'keys')
        self.program = rig.run(rig.build / 'contrib/keypad/bismar-keypad', '--socket', rig.socket, '--aloud', rig.dir / 'aloud', '--log-level', 'debug',
                               '--replay', self.path)
        self.program.until('bismard answers')
        os.mkfifo(self.path)
        self.program.until('is there')
        self.fd = os.open(self.path, os.O_WRONLY)
        self.press('numlock')  # means nothing; the recording's clock runs from here on

    def press(self, key):
        self.now += PAUSE_S
        for n, value in enumerate((1, 0)):
            for kind, code, what in ((EV_MSC, MSC_SCAN, KEYS[key]), (EV_KEY, KEYS[key], value), (EV_SYN, 0, 0)):
                os.write(self.fd, struct.pack('=qqHHi', self.now, n * 80000, kind, code, what))

    def answer(self, name):
        """By the digit of that pup among the suggestions of the newest question."""
        names = [c['name'] for c in self.rig.asked['candidates']]
        self.program.until('question ' + self.rig.asked['ask'])
        self.press(str(names.index(name) + 1))
        self.program.until('recorded: "?' + name)


class Evening:
    def __init__(self, rig, phone):
        self.rig, self.phone = rig, phone
        self.voice = rig.run(rig.build / 'contrib/speak/bismar-speak', '--socket', rig.socket, '--aloud', rig.dir / 'aloud', '--wav', rig.dir, '--by', 'espeak-ng')
        self.voice.until('bismard answers')
        self.pad = Pad(rig)
        self.client = rig.pair('ear').events()  # what the questions are, for the test alone
        self.client.until('link', up=True)

    def weigh(self, grams):
        self.rig.sim_do('pup %d' % grams)
        self.rig.asked = self.client.until('ask')
        assert self.rig.asked['net_g'] == grams, self.rig.asked
        self.phone.wait('document.querySelector("#ask .figure.asked") && document.querySelector("#ask .figure.asked").innerText.indexOf("%d") === 0' % grams)
        self.voice.until('info: "?%d grams' % grams)

    def word(self, name):
        with socket.socket(socket.AF_UNIX) as s:
            s.connect(str(self.rig.socket))
            s.sendall(name.lower().encode() + b'\n')
            s.shutdown(socket.SHUT_WR)
            said = [line for line in s.makefile() if line.startswith(('ok', 'error'))]
        assert said and said[0].startswith('ok'), said

    def answer(self, hand, name, grams):
        if hand == 'phone':
            choose(self.phone, name)
        elif hand == 'pad':
            self.pad.answer(name)
        else:
            self.word(name)
        told = self.client.until('recorded', ask=self.rig.asked['ask'])
        assert (told['name'], told['net_g']) == (name, grams), told
        self.phone.wait('bismar.state.done && bismar.state.done.name === "%s" && bismar.state.done.net_g === %d && !bismar.shown()' % (name, grams))
        self.phone.see('g since ')  # birth, or the weighing before: also when the page had looked before it was told
        self.voice.until('info: "?%s, %d grams' % (name, grams))

    def round(self, fed, grams_of):
        hands = ('phone', 'pad', 'word')
        self.rig.bismar('round', 'begin', 'hedge', '--fed', fed)
        for n, (name, _, birth) in enumerate(PUPS):
            if n == 5 and fed == 'before':  # the cat
                self.weigh(3100)
                self.pad.program.until('question ' + self.rig.asked['ask'])
                self.pad.press('minus')
                self.pad.program.until('set aside')
            self.weigh(grams_of(birth))
            if n == 2 and fed == 'before':  # the wrong key, taken back by the pad
                self.pad.answer('Moss')
                self.client.until('recorded')
                self.pad.press('slash')
                self.pad.program.until('taken back')
                self.client.until('ask')
                self.phone.see('Who is it?')
            self.answer(hands[n % 3], name, grams_of(birth))
        left = self.client.until('round', ended=True)['left']
        assert left == [], left


def test_evening(build):
    phone = browser.Phone()
    try:
        with Rig(build, scale=True) as rig:
            rig.litter(PUPS)
            rig.start_page()
            pair(rig, phone)
            evening = Evening(rig, phone)
            evening.round('before', lambda birth: birth + 40)
            phone.picture('evening-before')
            evening.round('after', lambda birth: birth + 55)
            phone.picture('evening-after')
            want = sorted((name, float(birth + more), fed) for name, _, birth in PUPS for more, fed in ((40, 'before'), (55, 'after')))
            assert sorted(rig.rows('SELECT animal, net_g, fed FROM reading')) == want, rig.rows('SELECT animal, net_g, fed FROM reading')
            assert rig.rows('SELECT count(*) FROM unanswered') == [(0,)]
            by = dict(rig.rows('SELECT answered_by, count(*) FROM reading GROUP BY 1'))
            assert by['box phone'] == 6 and by['keypad'] == 6, by
            assert rig.rows("SELECT kind, count(*) FROM answer_log GROUP BY 1 ORDER BY 1") == [('answer', 17), ('aside', 1), ('reopen', 1)]
            phone.tap_on('Pups', 'nav button')
            phone.see('530')  # the last one's
            phone.picture('evening-pups')
            spoken = [f for f in os.listdir(rig.dir) if f.endswith('.wav')]
            print('%d readings by phone, pad and word; %d sentences said' % (len(want), len(spoken)))
            assert len(spoken) >= 2 * len(want), spoken
            assert phone.console() == [] and phone.violations() == []
            evening.client.close()
            rig.stop_page()
    finally:
        phone.close()


if __name__ == '__main__':
    import sys
    run_cases(globals(), sys.argv)
