#!/bin/sh
# Installs the Debian packages named as arguments that are missing: as root or
# through sudo without a password; else prints the line to type. A program of a
# package's name that came another way will do.
missing=
for p in "$@"; do
	dpkg-query -W -f='${Status}' "$p" 2>/dev/null | grep -q 'ok installed' || command -v "$p" >/dev/null || missing="$missing $p"
done
[ -z "$missing" ] && exit 0
if [ "$(id -u)" = 0 ]; then
	as_root=
elif sudo -n true 2>/dev/null; then
	as_root="sudo -n"
else
	echo "For the full test run, install: sudo apt-get install --no-install-recommends$missing"
	exit 0
fi
command -v apt-get >/dev/null || { echo "For the full test run, this machine lacks:$missing"; exit 0; }
export DEBIAN_FRONTEND=noninteractive
$as_root apt-get update -qq && $as_root apt-get install -y -qq --no-install-recommends $missing
