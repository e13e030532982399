# Shared by tests/cli/test_*.sh: run the program, look at what it said.
#
#   run ARGS...            sets code, out, err
#   expect_code N          complains unless the last run ended with N
#   expect_out TEXT        ... unless stdout holds TEXT (a fixed string); reject_out the opposite
#   expect_err TEXT        ... unless stderr holds TEXT
#   expect_clean_err       ... unless stderr is empty
#   finish                 exit status of the script
: "${ISTHMUS:?set ISTHMUS to the program to test}"
scratch=$(mktemp -d)
trap 'rm -rf "$scratch"' EXIT
failures=0
unset NO_COLOR
TERM=dumb
export TERM

complain() {
    failures=$((failures + 1))
    printf 'FAIL: isthmus %s\n  %s\n' "$last" "$1"
    printf '  stdout: %.400s\n  stderr: %.400s\n' "$out" "$err"
}

run() {
    last=$*
    "$ISTHMUS" "$@" >"$scratch/out" 2>"$scratch/err" </dev/null
    code=$?
    out=$(cat "$scratch/out")
    err=$(cat "$scratch/err")
}

expect_code() { [ "$code" -eq "$1" ] || complain "exit code $code, expected $1"; }
holds() { case $1 in *"$2"*) return 0 ;; esac; return 1; }
expect_out() { holds "$out" "$1" || complain "stdout lacks \"$1\""; }
reject_out() { holds "$out" "$1" && complain "stdout must not hold \"$1\""; return 0; }
expect_err() { holds "$err" "$1" || complain "stderr lacks \"$1\""; }
expect_clean_err() { [ -z "$err" ] || complain "stderr is not empty"; }

finish() {
    [ "$failures" -eq 0 ] && echo "ok" || echo "$failures failed"
    [ "$failures" -eq 0 ]
    exit
}
