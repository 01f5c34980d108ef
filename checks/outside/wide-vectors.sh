#!/usr/bin/env bash
# Runs the kernel against its references, and width against width, on 512-bit vectors where the machine has none: inside Bochs, which
# emulates such a processor one instruction after another. It shows that the results are right, nothing about speed.
#
# Needs, on Debian: bochs bochs-term bochsbios vgabios grub-pc-bin grub-common xorriso mtools busybox-static cpio.
# Fetches Debian's small kernel with `apt-get download`. A few minutes; exits with 1 unless the tests pass on
# the wide vectors.
set -euo pipefail
cd "$(dirname "$0")/../.."
root=$PWD

for tool in bochs grub-mkrescue xorriso busybox cpio script; do
    command -v "$tool" >/dev/null || { echo "$tool is missing: see the head of this file" >&2; exit 1; }
done

program=$(cargo test -p arcwright-model --lib --no-run --message-format=json 2>/dev/null |
    python3 -c 'import json, sys
for line in sys.stdin:
    made = json.loads(line)
    if made.get("profile", {}).get("test") and made.get("executable"):
        print(made["executable"])')

work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
cd "$work"
kernel=$(apt-cache depends linux-image-cloud-amd64 | grep -o 'linux-image-[0-9][^ ]*' | head -n 1)
apt-get download -q "$kernel" >/dev/null 2>&1
dpkg-deb -x "$kernel"*.deb kernel
mkdir -p disk/boot/grub files/{bin,dev,proc,lib64}
cp kernel/boot/vmlinuz* disk/boot/vmlinuz

cp "$(command -v busybox)" files/bin/busybox
strip -o files/bin/tests "$program"
ldd "$program" | grep -o '/[^ ]*' | while read -r library; do
    mkdir -p "files$(dirname "$library")"
    cp -L "$library" "files$library"
done
mkdir -p "files$root/crates/model"
cp -r "$root/checks" "files$root/checks"
cat > files/init <<'INIT'
#!/bin/busybox sh
/bin/busybox mount -t devtmpfs none /dev
/bin/busybox mount -t proc none /proc
exec >/dev/ttyS0 2>&1
/bin/busybox grep -m1 -o avx512dq /proc/cpuinfo
RUST_TEST_THREADS=1 /bin/tests every_reference_crossing every_vector_width references_among clouds_have_the_same_bits quick_inverse_root && echo "all passed"
/bin/busybox sleep 2
/bin/busybox poweroff -f
INIT
chmod +x files/init
(cd files && find . | cpio --quiet -o -H newc | gzip -1) > disk/boot/files.gz

# Linux turns every wide register off where the sizes that Bochs 2.7 tells for the compacted form of saving
# them disagree; without that form (bits 321 and 323) they stay on.
cat > disk/boot/grub/grub.cfg <<'GRUB'
set timeout=0
menuentry tests {
    linux /boot/vmlinuz console=ttyS0 quiet nokaslr mitigations=off clearcpuid=321,323
    initrd /boot/files.gz
}
GRUB
grub-mkrescue -o tests.iso disk >/dev/null 2>&1

cat > machine <<MACHINE
display_library: term
config_interface: textconfig
cpu: model=corei7_skylake_x, count=1, ips=50000000
memory: guest=1024, host=1024
romimage: file=/usr/share/bochs/BIOS-bochs-latest
vgaromimage: file=/usr/share/bochs/VGABIOS-lgpl-latest
ata0: enabled=1, ioaddr1=0x1f0, ioaddr2=0x3f0, irq=14
ata0-master: type=cdrom, path=$work/tests.iso, status=inserted
boot: cdrom
com1: enabled=1, mode=file, dev=$work/said
log: $work/log
clock: sync=none
MACHINE
echo c > commands
TERM=xterm timeout 3600 script -qc "bochs -q -f machine -rc commands" /dev/null </dev/null >/dev/null 2>&1 || true
cat said
grep -q avx512dq said || { echo "the wide vectors were not there" >&2; exit 1; }
grep -q "all passed" said
