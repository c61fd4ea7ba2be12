#!/bin/sh
# Check the studio's own modules against their types (// @ts-check), by TypeScript fetched for the
# purpose. Usage: sh tools/check_modules.sh
set -eu
version=5.9.3
making=$(mktemp -d)
trap 'rm -rf "$making"' EXIT
npm pack --silent --pack-destination "$making" "typescript@$version" >/dev/null
tar -xzf "$making/typescript-$version.tgz" -C "$making"
node "$making/package/bin/tsc" --noEmit --allowJs --checkJs --strict --noUncheckedIndexedAccess \
  --target es2022 --lib es2022,dom,dom.iterable --module es2022 --moduleResolution bundler --moduleDetection force \
  "$(dirname "$0")"/../src/changewright/studio/static/*.js
