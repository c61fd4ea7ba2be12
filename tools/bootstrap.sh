#!/bin/sh
# Make a virtual environment in $1. On a Debian without the venv module, install it first.
set -eu
venv="$1"
python="${PYTHON:-python3}"
"$python" - <<'CHECK' || { echo "changewright needs Python 3.11 or newer; set PYTHON=/path/to/python3.11" >&2; exit 1; }
import sys
sys.exit(sys.version_info < (3, 11))
CHECK
if ! "$python" -m venv "$venv" 2>/dev/null; then
    echo "Python's venv module is missing; trying to install it with apt-get" >&2
    sudo=""
    [ "$(id -u)" = 0 ] || sudo="sudo"
    $sudo apt-get update -q && $sudo apt-get install -y -q python3-venv python3-pip
    rm -rf "$venv"
    "$python" -m venv "$venv"
fi
"$venv/bin/python" -m pip install --quiet --upgrade "pip>=25.1"
