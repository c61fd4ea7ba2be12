#!/bin/sh
# Install PostgreSQL's server programs where they are missing; the tests start their own server.
set -eu
if command -v initdb >/dev/null 2>&1 || ls /usr/lib/postgresql/*/bin/initdb >/dev/null 2>&1; then
    exit 0
fi
sudo=""
[ "$(id -u)" = 0 ] || sudo="sudo"
# The tests bring their own cluster; Debian's would only stand about.
$sudo mkdir -p /etc/postgresql-common/createcluster.d
echo "create_main_cluster = false" | $sudo tee /etc/postgresql-common/createcluster.d/changewright.conf >/dev/null
$sudo apt-get update -q
$sudo apt-get install -y -q --no-install-recommends postgresql
