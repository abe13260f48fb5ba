# One virtual environment for the checkout, from constraints.txt. Read by demo/run and tests/run with $root set.
#
# Codes: 69 something is missing on this machine, 70 an install failed, 130 interrupted.
# PYTHON=/path/to/python chooses the interpreter.

venv="$root/.venv"
log="$venv/install.log"
models="$venv/models"
# Every program that a test starts would otherwise compile the whole package anew.
unset PYTHONHOME PYTHONPATH PYTHONDONTWRITEBYTECODE
export PIP_USER=0 PIP_DISABLE_PIP_VERSION_CHECK=1 PYTHONUNBUFFERED=1
trap 'say "stopped; start again to go on"; exit 130' INT
trap 'exit 143' TERM

say() { printf 'rowhand: %s\n' "$*" >&2; }
stop() {
    code=$1
    shift
    say "$*"
    exit "$code"
}

# Those first for which every part comes ready-made.
find_python() {
    old='' bare=''
    for candidate in ${PYTHON:+"$PYTHON"} python3.13 python3.11 python3.12 python3 python3.14; do
        "$candidate" -c '
import sys
if sys.version_info < (3, 11):
    sys.exit(11)
try:
    import ensurepip, venv
except ImportError:
    sys.exit(12)' 2>/dev/null
        case $? in
        0) python=$candidate && return ;;
        11) old=$candidate ;;
        12) bare=$candidate ;;
        esac
    done
    [ -z "$bare" ] || stop 69 "$bare has no venv module; install it (on Debian and Ubuntu: apt-get install python3-venv)"
    [ -z "$old" ] || stop 69 "Python 3.11 or newer is needed; $old is $("$old" -V 2>&1)"
    stop 69 "Python 3.11 or newer is needed; none was found"
}

section() { awk -v wanted="# [$1]" '/^# \[/ { inside = ($0 == wanted) } inside' "$root/constraints.txt"; }

# What an environment is good for: these files, at this place.
stamp() { cat "$root/pyproject.toml" "$root/constraints.txt" | cksum && printf '%s\n' "$root"; }

is_fresh() { [ -f "$venv/$1.stamp" ] && [ "$(stamp)" = "$(cat "$venv/$1.stamp")" ] && "$venv/bin/python" -c '' 2>/dev/null; }

# An environment may grow in place only where an install was once finished and nothing broke since.
is_whole() {
    for finished in "$venv"/*.stamp; do
        [ -f "$finished" ] && [ "$(tail -n 1 "$finished")" = "$root" ] && "$venv/bin/python" -m pip --version >/dev/null 2>&1
        return
    done
}

new_venv() {
    find_python
    say "making .venv with $("$python" -V 2>&1) (once; it downloads about 120 MB)"
    rm -rf "$venv" && "$python" -m venv "$venv" >/dev/null || stop 70 "cannot make $venv"
}

show_progress() {
    count=0 failed=0
    while read -r line; do
        printf '%s\n' "$line" >>"$log"
        case $line in
        Collecting*)
            count=$((count + 1)) name=${line#Collecting }
            [ ! -t 2 ] || printf '\r\033[Krowhand: %s of %s: %s' "$count" "$1" "${name%%[= ]*}" >&2
            ;;
        Installing\ collected*) [ ! -t 2 ] || printf '\r\033[Krowhand: unpacking' >&2 ;;
        PIP\ FAILED) failed=1 ;;
        esac
    done
    [ ! -t 2 ] || printf '\r\033[K' >&2
    return "$failed"
}

pip_install() {
    total=$1
    shift
    { "$venv/bin/python" -m pip install --no-build-isolation --retries 2 "$@" 2>&1 || echo PIP FAILED; } |
        show_progress "$total" || explain_failure
}

explain_failure() {
    if grep -q -e 'name resolution' -e 'NewConnectionError' -e 'ConnectTimeout' -e 'ProxyError' -e 'unreachable' "$log"; then
        stop 69 "no network: the first start downloads its packages; connect once and start again"
    elif grep -q 'No space left' "$log"; then
        stop 69 "the disk is full: .venv needs about 600 MB"
    elif grep -q 'DO NOT MATCH THE HASHES' "$log"; then
        stop 70 "a downloaded package is not the one that constraints.txt names; nothing of it was installed ($log)"
    elif grep -q -e 'CMAKE_C_COMPILER' -e 'No C compiler' "$log"; then
        stop 69 "$("$venv/bin/python" -V) has no ready-made pocketsphinx: install a C and C++ compiler, or Python 3.13"
    fi
    stop 70 "the install failed: $(grep '^ERROR' "$log" | tail -n 1) ($log)"
}

install_section() {
    section "$1" >"$venv/$1.txt"
    total=$(grep -c '==' "$venv/$1.txt")
    say "installing: $1 ($total packages)"
    PATH="$venv/bin:$PATH" pip_install "$total" --require-hashes -r "$venv/$1.txt"
}

are_fresh() {
    for part in "$@"; do is_fresh "$part" || return 1; done
}

# The model of the third opinion is tried once, after an install; where it cannot be fetched Rowhand hears without it.
fetch_third_opinion() {
    say "fetching the third opinion of English (50 MB)"
    ROWHAND_MODELS="$models" "$venv/bin/rowhand" models install ears >>"$log" 2>&1 ||
        say "it could not be fetched; all else works without it"
}

# prepare SECTION...: make .venv hold these sections and Rowhand itself; what is finished is stamped last.
prepare() {
    are_fresh "$@" || install "$@"
    [ ! -d "$models/installed" ] || export ROWHAND_MODELS="${ROWHAND_MODELS:-$models}"
}

install() {
    is_whole || new_venv
    rm -f "$venv"/*.stamp "$log"
    for part in build "$@"; do install_section "$part"; done
    pip_install 1 --no-deps --no-index --editable "$root"
    [ -d "$models/installed" ] || case " $* " in *" ears "*) fetch_third_opinion ;; esac
    for part in "$@"; do stamp >"$venv/$part.stamp"; done
    say "ready"
}
