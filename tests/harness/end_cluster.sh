#!/bin/sh
# Ends the PostgreSQL that the harness keeps for tests or for the bench, and removes what it wrote.
#
#   end_cluster.sh ROOM SECONDS
#
# ROOM is the directory of the lock files and of the note `state`, which names the server. It is
# ended once no process has used it for SECONDS (a user holds a shared lock on ROOM/in-use, which
# the kernel takes back however the process ends). With 0 it is ended now, unless it is in use.
# Only the server that the note names is ended: by its process id, and only when that process
# works in the data directory of the note.
set -eu
room=$1
patience=$2
[ -f "$room/state" ] || exit 0
known=$(cat "$room/state")
value() { printf '%s\n' "$known" | sed -n "s/^$1=//p"; }
directory=$(value directory)
container=$(value container)

# The note may be gone (somebody cleaned up) or name a later server: then this one is still ended,
# but the note is left alone.
current() { [ -f "$room/state" ] && [ "$(value_of_now)" = "$directory$container" ]; }
value_of_now() { sed -n 's/^directory=//p; s/^container=//p' "$room/state" | tr -d '\n'; }

used() {
    [ -e "$room/in-use" ] || return 1
    ! flock --nonblock --exclusive "$room/in-use" true
}

end() {
    if [ -n "$container" ]; then
        docker rm --force --volumes "$container" >/dev/null 2>&1 || true
    fi
    case $directory in
    */assize-*) ;;
    *) directory= ;;
    esac
    if [ -n "$directory" ]; then
        pid=$(sed -n 1p "$directory/data/postmaster.pid" 2>/dev/null || true)
        if [ -n "$pid" ] && [ "$(readlink "/proc/$pid/cwd" || true)" = "$directory/data" ]; then
            kill -QUIT "$pid" 2>/dev/null || true
            tries=0
            while [ -d "/proc/$pid" ] && [ "$tries" -lt 100 ]; do
                sleep 0.1
                tries=$((tries + 1))
            done
        fi
        rm -rf "$directory"
    fi
    if current; then rm -f "$room/state"; fi
}

idle=0
while :; do
    while [ "$idle" -lt "$patience" ]; do
        sleep 2
        if used; then idle=0; else idle=$((idle + 2)); fi
        current || idle=$patience
    done
    if [ -d "$room" ]; then
        # Nobody can begin to use the server while this lock is held.
        exec 8>"$room/start.lock"
        flock 8
    fi
    if ! current || ! used; then
        end 8>&-
        exit 0
    fi
    [ "$patience" -gt 0 ] || { echo "left running, since tests are still using it" >&2; exit 0; }
    exec 8>&-
    idle=0
done
