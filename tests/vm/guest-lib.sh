# SPDX-License-Identifier: MIT
# Sourced by the guest scripts, which run as process 1 of the virtual machine. $BUILD is the build directory and $VM the
# folder of what run built; both come on the kernel's command line.
export PATH=/usr/sbin:/usr/bin:/sbin:/bin
here=$(cd "$(dirname "$0")" && pwd)
mkdir -p /run/vm /run/dbus
exec </dev/null >>/out/guest.log 2>&1

# until_true LIMIT_S WHAT COMMAND...: waits for an event by asking for it; ends the guest when it never comes.
until_true() {
	local end=$((SECONDS + $1)) what=$2
	shift 2
	until "$@"; do
		if [ $SECONDS -ge $end ]; then
			say "$what: didn't come to be"
			exit 1
		fi
		sleep 0.05
	done
}

say() { # a line for whoever runs the test
	echo "vm: $*" >/dev/ttyS1
}

begin() {
	trap 'finish $?' EXIT
	stty -F /dev/ttyS1 raw # no carriage returns
	mount -t tmpfs tmpfs /var/lib/bluetooth
	rm -f /tmp/bt-server-* # the host's, if any: nobody answers there
	dbus-daemon --system --fork --nopidfile
	dbus-monitor --system "sender='org.bluez'" >/out/dbus.log 2>&1 &
	air
}

air() {
	btmon -w /out/btmon.snoop >/dev/null 2>&1 &
	btvirt -s >/out/btvirt.log 2>&1 &
}

finish() { # STATUS
	echo "$1" >/out/rc
	sync
	busybox poweroff -f
}

set_up() { # hciN: its controller answered, so it has an address
	hciconfig "$1" 2>/dev/null | grep -q 'BD Address: [^ ]*[1-9A-F]'
}

# controller N: plugs in hciN. Again if btvirt isn't there yet or a starved machine let the kernel's first command
# run into its time limit of 2 s.
controller() {
	local log=/out/relay$1.log try
	for try in 1 2 3 4 5; do
		"$VM/vhci-relay" /tmp/bt-server-le -58 >"$log" 2>&1 &
		echo $! >"/run/vm/relay$1.pid"
		for _ in {1..200}; do
			if grep -q "^hci$1$" "$log" && set_up "hci$1"; then return; fi
			kill -0 $! 2>/dev/null || break
			sleep 0.05
		done
		echo "controller $1: try $try failed"
		kill $! 2>/dev/null
		wait $! 2>/dev/null
	done
	say "controller hci$1: can't be plugged in"
	exit 1
}

# scale ADDRESS: one on the same air, with a controller of its own.
scale() {
	until_true 60 "btvirt's socket" test -S /tmp/bt-server-le
	/usr/bin/python3 "$here/scale.py" /tmp/bt-server-le /run/vm/scale.fifo "$1" >>/out/scale.log 2>&1 &
	echo $! >/run/vm/scale.pid
}

# bluetoothd, started again whenever it ends, as systemd would do.
bluetooth() {
	while :; do
		/usr/libexec/bluetooth/bluetoothd -n -d >>/out/bluetoothd.log 2>&1 &
		echo $! >/run/vm/bluetoothd.pid
		wait $!
		echo "bluetoothd ended: $?"
	done &
}
