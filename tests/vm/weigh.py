#!/usr/bin/python3
# SPDX-License-Identifier: MIT
"""usage: weigh.py BUILD_DIR SCALE_ADDRESS
The story of the test, told in the guest: bismard is started, a scale adopted, a litter weighed while links, bluetoothd
and bismard itself come and go. Every reading must be in the database with the exact mass that the scale sent.
One line a check on standard output; exit status 0 only if all came true."""
import os
import signal
import sys
import guest
from guest import Payload, Prompt, Wrong, check, pid_of, until
from household import Household


class Story(Household):
    def repeat(self, payload):
        """The same result once more: kept as a frame, no second weighing."""
        asks = len(self.prompt.messages("ask"))
        self.indicate(payload)
        until("repeat: frame", lambda: self.frames()[len(self.sent) - 1:])
        fate = self.rows("SELECT fate FROM frame_log ORDER BY received_at_ms DESC, frame_id DESC LIMIT 1")[0][0]
        check("the same result again", fate, "repeat")
        check("asks after it", len(self.prompt.messages("ask")) - asks, 0)

    def back_at_once(self):
        """bluetoothd 5.66 can take the new link for a second channel of the old one; then its services are never
        resolved, and all that it tells is ServicesResolved=false."""
        before = self.scale.events("disconnected")
        self.scale.tell("blink")
        self.scale.until_event("drop by the scale", "disconnected", before)

    def kill_bluetoothd(self):
        os.kill(pid_of("bluetoothd"), signal.SIGKILL)

    def restart_daemon(self):
        check("bismard, ended by SIGTERM: exit status", self.daemon.stop(), 0)
        self.daemon.start()
        self.prompt = Prompt()

    def unanswered_restart(self, collar, payload):
        """What was asked before the end is asked again, and can be answered."""
        ask = self.ask_for(payload)
        self.subscribed_after("bismard restarted", self.restart_daemon)
        until("the open ask again", lambda: any(a["ask"] == ask for a in self.prompt.messages("ask")))
        self.answer(collar, ask, payload)

    def tell(self):
        self.begin()
        self.subscribed_after("adopted", self.set_up)
        self.weigh("red", Payload(141))
        self.weigh("blue", Payload(139, Payload.STAMPED))
        self.weigh("green", Payload(159, Payload.POUNDS))
        stamped = Payload(142, Payload.STAMPED)
        self.weigh("red", stamped)
        self.repeat(stamped)
        self.subscribed_after("dropped by the scale", lambda: self.until_lost(self.scale.drop))
        self.weigh("blue", Payload(140))
        self.subscribed_after("link lost", lambda: self.until_lost(self.scale.lose_link))
        self.weigh("green", Payload(145))
        self.subscribed_after("bluetoothd killed", self.kill_bluetoothd)
        self.weigh("red", Payload(143))
        self.unanswered_restart("blue", Payload(160, Payload.POUNDS))
        self.weigh("green", Payload(146))
        self.subscribed_after("dropped, back at once", self.back_at_once)
        self.weigh("red", Payload(147))
        self.compare()
        check("feature read, at least once", self.scale.events("feature read") > 0, True)
        check("bismard's exit status", self.daemon.stop(), 0)


story = Story(*sys.argv[1:3])
try:
    story.tell()
except Wrong as wrong:
    guest.fail(wrong)
finally:
    story.end()
sys.exit(guest.failures > 0)
