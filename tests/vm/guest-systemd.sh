#!/bin/bash
# SPDX-License-Identifier: MIT
# Process 1, which hands over to the real systemd; then, as "guest-systemd.sh work", the unit that puts the radio on the
# air and tells the story of installed.py. What only slows a boot is masked.
if [ "$1" = work ]; then
	. "$(dirname "$0")/guest-lib.sh"
	trap 'finish $?' EXIT
	air
	scale $ADDRESS
	controller 0
	/usr/bin/python3 "$here/installed.py" $ADDRESS >/dev/ttyS1
	exit
fi

set -e
units=/etc/systemd/system # on the memory file system, as all here
mkdir -p $units /run/systemd/system
for unit in systemd-tmpfiles-setup systemd-tmpfiles-setup-dev systemd-tmpfiles-clean e2scrub_reap systemd-update-utmp \
	systemd-random-seed getty@tty1 console-getty systemd-udev-trigger ldconfig systemd-journal-catalog-update \
	systemd-hwdb-update systemd-timesyncd; do
	ln -sf /dev/null $units/$unit.service
done
for timer in apt-daily apt-daily-upgrade dpkg-db-backup man-db e2scrub_all fstrim systemd-tmpfiles-clean; do
	ln -sf /dev/null $units/$timer.timer
done
mount -t tmpfs tmpfs /var/lib/bluetooth
rm -rf /var/log/journal /usr/sbin/policy-rc.d # the host's: a container may forbid packages to start services
rm -f /var/lib/man-db/auto-update # an index of all manual pages would be made after each dpkg
rm -f /tmp/bt-server-*
stty -F /dev/ttyS1 raw # no carriage returns

cat >$units/work.service <<UNIT
[Unit]
Wants=dbus.service
After=dbus.service
[Service]
Type=oneshot
Environment=BUILD=$BUILD VM=$VM ADDRESS=C0:FF:EE:00:00:01
ExecStart=$SCRIPT work
UNIT
printf '[Unit]\nRequires=basic.target work.service\nAfter=basic.target\nAllowIsolate=yes\n' >$units/work.target
ln -sf $units/work.target $units/default.target
exec /lib/systemd/systemd --show-status=no --log-target=journal
