#!/bin/sh
# Install the web server behind which a test serves the studio, where it is missing.
set -eu
command -v nginx >/dev/null 2>&1 || [ -x /usr/sbin/nginx ] && exit 0
sudo=""
[ "$(id -u)" = 0 ] || sudo="sudo"
# The test brings its own configuration; Debian's server would only stand about.
printf '#!/bin/sh\nexit 101\n' | $sudo tee /usr/sbin/policy-rc.d >/dev/null
$sudo chmod +x /usr/sbin/policy-rc.d
$sudo apt-get update -q
$sudo apt-get install -y -q --no-install-recommends nginx-light
$sudo rm /usr/sbin/policy-rc.d
