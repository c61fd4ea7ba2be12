#!/bin/sh
# What the browser tests need besides the wheels: a Chromium, and axe-core's rules of accessibility
# (MPL-2.0, used by the tests alone and not part of the package).
# Usage: sh tools/browser.sh VENV
set -eu
venv=$1
version=4.14.1
target="$venv/share/axe.min.js"

sudo=""
[ "$(id -u)" = 0 ] || sudo="sudo"
wanted=""
command -v chromium >/dev/null || command -v chromium-browser >/dev/null || wanted="chromium"
command -v npm >/dev/null || wanted="$wanted npm"
if [ -n "$wanted" ]; then
  $sudo apt-get update -q
  # shellcheck disable=SC2086  # one word a package
  $sudo apt-get install -y -q --no-install-recommends $wanted
fi
"$venv/bin/python" -m pip install --quiet --group test
[ -f "$target" ] && exit 0
making=$(mktemp -d)
trap 'rm -rf "$making"' EXIT
npm pack --silent --pack-destination "$making" "axe-core@$version" >/dev/null
tar -xzf "$making/axe-core-$version.tgz" -C "$making" package/axe.min.js
mkdir -p "$venv/share"
mv "$making/package/axe.min.js" "$target"
