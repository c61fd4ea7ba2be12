#!/bin/sh
# Install the web server behind which a test serves the studio, where it is missing.
set -eu
command -v nginx >/dev/null 2>&1 || [ -x /usr/sbin/nginx ] && exit 0
sudo=""
[ "$(id -u)" = 0 ] || sudo="sudo"
$sudo apt-get update -q
# The test brings its own configuration; Debian's server would only stand about, so it is not started.
policy=/usr/sbin/policy-rc.d
if [ ! -e "$policy" ]; then
  printf '#!/bin/sh\nexit 101\n' | $sudo tee "$policy" >/dev/null
  $sudo chmod +x "$policy"
  trap '$sudo rm -f "$policy"' EXIT
fi
$sudo apt-get install -y -q --no-install-recommends nginx-light
