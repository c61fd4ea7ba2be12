#!/bin/sh
# Fetch two sung recordings (vocadito, CC BY 4.0: see benchmarks/sung/NOTICE.txt) into
# VENV/share/sung. They come with the source distribution of a library; nothing of it is installed.
# Usage: sh tools/sung.sh VENV
set -eu
venv=$1
version=0.4.0
target="$venv/share/sung"
[ -f "$target/vocadito_14.wav" ] && exit 0
making=$(mktemp -d)
trap 'rm -rf "$making"' EXIT
"$venv/bin/python" -m pip download --quiet --no-deps --no-binary basic-pitch \
  --dest "$making" "basic-pitch==$version"
tar -xzf "$making/basic_pitch-$version.tar.gz" -C "$making" --strip-components 3 \
  "basic_pitch-$version/tests/resources/vocadito_10.wav" \
  "basic_pitch-$version/tests/resources/vocadito_14.wav"
mkdir -p "$target"
mv "$making"/vocadito_10.wav "$making"/vocadito_14.wav "$target/"
