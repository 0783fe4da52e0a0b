# Sourced by the checks: sets PYTHON, unless it names an interpreter already, to one that has the
# packages of ../requirements.txt, fetched from PyPI into a folder of its own.
if [ -z "${PYTHON:-}" ]; then
    venv="${XDG_CACHE_HOME:-$HOME/.cache}/overcup/outside"
    [ -x "$venv/bin/python" ] || python3 -m venv "$venv"
    "$venv/bin/python" -m pip install --quiet -r "$here/../requirements.txt"
    PYTHON="$venv/bin/python"
fi
