# SPDX-License-Identifier: MIT
# Sourced by the tests of this folder, which run on the host: what a virtual machine needs. The caller has its build
# directory in $1 and checked options; afterwards $here is this folder, $root the project, $build the build directory,
# $vm the folder of what is made for the machines.
set -euo pipefail
export PATH=$PATH:/usr/sbin:/sbin
LIMIT_S=1200 # of one whole guest; a minute or two is usual

skip() {
	echo "vm: skipped: $*"
	exit 77
}

for program in daemon/bismard daemon/ctl/bismar; do
	[ -x "$1/$program" ] || { echo "vm: there is no $1/$program" >&2; exit 2; }
done
here=$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)
root=$(cd "$here/../.." && pwd)
build=$(cd "$1" && pwd)
vm=$build/vm
case $here$build in
*[[:space:],]*) skip "blanks and commas in paths don't get through QEMU's command line" ;;
esac

need() { # PROGRAM...
	local tool
	[ "$(dpkg --print-architecture 2>/dev/null)" = amd64 ] || skip "needs Debian on amd64"
	for tool in qemu-system-x86_64 busybox cpio modprobe /usr/bin/python3 "$@"; do
		command -v "$tool" >/dev/null || skip "no $tool here; tests/vm/packages says what to install"
	done
	if ldd "$(command -v busybox)" >/dev/null 2>&1; then skip "busybox isn't the static one of busybox-static"; fi
}

# Debian's kernel package, extracted, not installed; and the kernel in it, unpacked for QEMU.
fetch_kernel() {
	local package
	mkdir -p "$vm"
	if [ ! -e "$vm/kernel" ]; then
		package=$(apt-cache depends linux-image-amd64 2>/dev/null |
			sed -n 's/^ *Depends: \(linux-image-[0-9]\)/\1/p' | head -1) || true
		[ -n "$package" ] || skip "apt knows no linux-image-amd64; try apt-get update"
		rm -rf "$vm/download" "$vm/kernel.new"
		mkdir -p "$vm/download"
		(cd "$vm/download" && apt-get -q download "$package") >"$vm/download.log" 2>&1 ||
			skip "can't download $package: $(tail -n 1 "$vm/download.log")"
		dpkg-deb -x "$vm/download"/linux-image-*.deb "$vm/kernel.new"
		rm -rf "$vm/download" "$vm"/*.cpio "$vm/vmlinux"
		mv "$vm/kernel.new" "$vm/kernel"
	fi
	if [ ! -e "$vm/vmlinux" ]; then
		"$here/unpack-kernel" "$vm"/kernel/boot/vmlinuz-* "$vm/vmlinux.new" ||
			cp "$vm"/kernel/boot/vmlinuz-* "$vm/vmlinux.new"
		mv "$vm/vmlinux.new" "$vm/vmlinux"
	fi
}

older() { # FILE THAN...: or missing
	local file=$1 than
	shift
	[ -e "$file" ] || return 0
	for than in "$@"; do
		if [ "$than" -nt "$file" ]; then return 0; fi
	done
	return 1
}

# What a guest with Bluetooth needs.
# drbg with sha512 and ctr: the kernel's self test of ECDH, and with it pairing, fails without.
# cmac, ecb, algif_*: bluetoothd and btvirt compute with them.
make_parts() {
	if older "$vm/guest.cpio" "$here/initramfs" "$here/host-lib.sh" "$here/guest-init"; then
		"$here/initramfs" "$vm/kernel" "$vm/guest.cpio" "$here/guest-init" virtio_pci virtio-rng 9pnet_virtio 9p \
			overlay sha512_generic ctr drbg cmac ecb algif_hash algif_skcipher rfkill bluetooth uhid hci_vhci uinput evdev
	fi
	if older "$vm/vhci-relay" "$here/vhci-relay.c" "$root"/protocols/bytes.[ch]; then
		gcc -std=gnu17 -O2 -Wall -Wextra -Wshadow -D_GNU_SOURCE -I"$root" -include "$root/daemon/banned.h" \
			-o "$vm/vhci-relay" "$here/vhci-relay.c" "$root/protocols/bytes.c"
	fi
}

# boot GUEST_SCRIPT OUT [QEMU_OPTION...]: what the guest says goes to standard output, what it leaves to OUT.
# The kernel hands NAME=value arguments that it doesn't know to process 1 as its environment.
boot() {
	local script=$1 out=$2 status=0
	local arguments="console=ttyS0 quiet panic=-1 mitigations=off nokaslr random.trust_cpu=on"
	shift 2
	rm -rf "$out"
	mkdir "$out"
	timeout "$LIMIT_S" qemu-system-x86_64 -M q35 -accel tcg,thread=multi -cpu max -smp 2 -m 768 \
		-nodefaults -no-user-config -no-reboot -display none \
		-serial "file:$out/console.log" -serial stdio \
		-kernel "$vm/vmlinux" -initrd "$vm/guest.cpio" \
		-append "$arguments SCRIPT=$script BUILD=$build VM=$vm" \
		-virtfs local,path=/,mount_tag=host,security_model=none,readonly=on,multidevs=remap \
		-virtfs local,path="$out",mount_tag=out,security_model=none \
		-device virtio-rng-pci "$@" </dev/null 2>"$out/qemu.log" || status=$?
	[ $status = 0 ] || echo "vm: QEMU ended with $status (124: after $LIMIT_S s)"
	[ -s "$out/rc" ] || echo "vm: the guest left no result"
}

show_logs() { # OUT
	local log
	for log in "$1"/*.log; do
		[ -s "$log" ] || continue
		echo "--- $log, the last lines"
		tail -n 15 "$log" | cut -c 1-200
	done
}

# verdict OUT: ends the test.
verdict() {
	if [ "$(cat "$1/rc" 2>/dev/null)" = 0 ]; then
		echo "vm: all right"
		exit 0
	fi
	show_logs "$1"
	exit 1
}
