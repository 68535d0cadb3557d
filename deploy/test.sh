#!/bin/sh
# Runs every check this project has, as CI does:
#
#	sh deploy/test.sh         under 15 minutes
#	sh deploy/test.sh -long   adds kill loops, simulations and fuzzing
#
# On a Debian machine with only Go it installs what else the tests need; without root it names the
# packages and stops. It carries on after a failed check and ends with 1 when any failed.
set -u
cd "$(dirname "$0")/.." || exit 1
exec </dev/null
began=$(date +%s)

long=
case "${1-}" in
'') ;;
-long) long=1 ;;
*)
	echo "usage: sh deploy/test.sh [-long]" >&2
	exit 2
	;;
esac

# Go keeps its cache under HOME, which a CI machine may not set.
if [ -z "${HOME-}" ]; then
	HOME=$(getent passwd "$(id -u)" | cut -d: -f6)
	export HOME="${HOME:-/tmp}"
fi
command -v go >/dev/null || PATH=$PATH:/usr/local/go/bin
if ! command -v go >/dev/null; then
	echo "Go is not installed: put Go 1.26 into /usr/local/go or into PATH." >&2
	exit 1
fi

missing=
need() { # need PACKAGES COMMAND...: the packages are missing when the command fails
	packages=$1
	shift
	"$@" >/dev/null 2>&1 || missing="$missing $packages"
}
compiles() { echo 'int main(void) { return 0; }' | gcc -x c -pthread -o /dev/null -; }
has_postgresql() { ls /usr/lib/postgresql/*/bin/initdb || command -v initdb; }
look() {
	missing=
	need 'gcc libc6-dev' compiles # for go test -race
	need postgresql has_postgresql
	need chromium command -v chromium
	need units command -v units
	need poppler-utils command -v pdftotext
	need libnss3-tools command -v certutil # so that a browser can be told to trust a yard's certificate
	need python3-scipy /usr/bin/python3 -c 'import scipy' # Debian's python3, whatever PATH has first
}
look
if [ -n "$missing" ]; then
	install="apt-get install -y --no-install-recommends$missing"
	if [ "$(id -u)" != 0 ] || ! command -v apt-get >/dev/null; then
		echo "The tests need more than Go. As root: apt-get update && $install" >&2
		exit 1
	fi
	export DEBIAN_FRONTEND=noninteractive
	apt-get update -q && $install
	look
	if [ -n "$missing" ]; then
		echo "Still missing after the installation:$missing" >&2
		exit 1
	fi
fi

failed=
check() { # check NAME COMMAND...: remembers a failure and carries on
	name=$1
	shift
	echo "== $name"
	"$@" || failed="$failed $name;"
}

formatted() {
	unformatted=$(gofmt -l .) && [ -z "$unformatted" ] || {
		echo "not as gofmt writes it: $unformatted"
		return 1
	}
}

# The program as it is shipped: no C library, at most 40 MB.
binary() {
	out=$(mktemp -d) || return 1
	CGO_ENABLED=0 go build -buildvcs=false -trimpath -ldflags='-s -w' -o "$out/leground" ./cmd/leground
	built=$?
	[ $built = 0 ] && size=$(wc -c <"$out/leground")
	rm -rf "$out"
	[ $built = 0 ] || return 1
	echo "the binary has $size bytes"
	[ "$size" -lt 40000000 ] || {
		echo "that is over 40,000,000"
		return 1
	}
}

# Each fuzz target for a minute. A failing input stays under testdata/fuzz of its package.
fuzz() {
	ok=0
	for found in $(grep -rEo '^func Fuzz[A-Za-z0-9_]+' --include='*_test.go' . | sed 's/func //'); do
		file=${found%%:*}
		go test -run '^$' -fuzz "^${found##*:}\$" -fuzztime 60s "$(dirname "$file")" || ok=1
	done
	return $ok
}

# A browser on a busy machine can miss its moment: a walk that fails is walked once more, and both are shown.
walk() {
	go test -shuffle=on -count=1 -timeout 20m "$1" || {
		echo "once more: $1"
		go test -count=1 -timeout 20m "$1"
	}
}

export LEGROUND_NO_SKIP=1 # a missing tool is a failure here
check gofmt formatted
check vet go vet ./...
check staticcheck go tool -modfile=deploy/tools.mod staticcheck ./...
# The browser's walks drive the whole program through real time: under the race detector, which makes the
# SQLite driver ten times slower, they would measure that. All else runs with it.
walks='/server/web$|/server/offlinetest$|/cmd/leground$|/testdata/seed$'
check tests go test -race -shuffle=on -count=1 -timeout 30m $(go list ./... | grep -vE "$walks")
for walk in $(go list ./... | grep -E "$walks"); do
	check "$walk" walk "$walk"
done
check binary binary
if [ -n "$long" ]; then
	export LEGROUND_LONG=1
	check 'long tests' go test -shuffle=on -count=1 -timeout 2h ./...
	check fuzzing fuzz
fi

echo "== $(($(date +%s) - began)) s"
if [ -n "$failed" ]; then
	echo "FAILED:$failed"
	exit 1
fi
echo "all checks passed"
