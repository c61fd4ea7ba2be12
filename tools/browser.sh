#!/bin/sh
# What the browser tests need besides the wheels: a Chromium, and axe-core's rules of accessibility
# (MPL-2.0, used by the tests alone and not part of the package).
# Usage: sh tools/browser.sh VENV
set -eu
venv=$1
version=4.14.1
target="$venv/share/axe.min.js"

command -v chromium >/dev/null || command -v chromium-browser >/dev/null || {
  echo "no Chromium here; on Debian: apt-get install -y chromium" >&2
  exit 1
}
"$venv/bin/python" -m pip install --quiet --group test
[ -f "$target" ] && exit 0
making=$(mktemp -d)
trap 'rm -rf "$making"' EXIT
npm pack --silent --pack-destination "$making" "axe-core@$version" >/dev/null
tar -xzf "$making/axe-core-$version.tgz" -C "$making" package/axe.min.js
mkdir -p "$venv/share"
mv "$making/package/axe.min.js" "$target"
