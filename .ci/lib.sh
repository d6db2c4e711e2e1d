# Shared by the scripts beside it: which programs a step needs, and where they come from. Sourced, never run.

# What ships is built without C, so what is tested is too. Only the race detector needs a C compiler.
export CGO_ENABLED=0
# A checkout may belong to another user than the one who builds; the version stamp from git is not worth a failure.
export GOFLAGS="${GOFLAGS:-} -buildvcs=false"

# need COMMAND PACKAGE...: installs Debian packages if the command is missing and this user may, else says what to install.
need() {
  local command=$1
  shift
  if command -v "$command" >/dev/null; then
    return 0
  fi
  if [ "$(id -u)" != 0 ] || ! command -v apt-get >/dev/null; then
    echo "$command is missing: install it (on Debian: apt-get install $*) and run this again" >&2
    return 1
  fi
  echo "installing $* for $command"
  # Package lists of a fresh machine are empty or old; apt's own output matters only when it fails.
  local log
  log=$(mktemp)
  if ! { apt-get -o Acquire::Retries=3 update &&
    DEBIAN_FRONTEND=noninteractive apt-get -o Acquire::Retries=3 install -y --no-install-recommends "$@"; } \
    >"$log" 2>&1 </dev/null; then
    cat "$log" >&2
    rm -f "$log"
    return 1
  fi
  rm -f "$log"
}

# need_buf: the schema compiler at the version that package.json pins. Building it from source takes five minutes.
need_buf() {
  local pinned
  pinned=$(sed -n 's/.*"@bufbuild\/buf": "\(.*\)".*/\1/p' package.json)
  # Its launcher is JavaScript, so a leftover node_modules does not help on a machine without node.
  need node nodejs
  if [ "$(node_modules/.bin/buf --version 2>/dev/null)" != "$pinned" ]; then
    need npm npm
    npm ci --ignore-scripts --no-audit --no-fund --loglevel=error
  fi
}

# need_web: what the page is built with, and a node that is new enough for it, first on the path.
need_web() {
  need node nodejs
  need npm npm
  local modules=node/web/node_modules npm
  # By its file, so that it runs on whichever node is first on the path.
  npm=$(readlink -f "$(command -v npm)")
  if ! cmp -s node/web/package-lock.json "$modules/.made-from"; then
    install_web "$npm"
    if [ "$(node_major)" -lt 22 ]; then
      # An old node leaves out what is made for newer ones: with the one that came, once more.
      use_own_node
      install_web "$npm"
    fi
    cp node/web/package-lock.json "$modules/.made-from"
  fi
  use_own_node
  if [ "$(node_major)" -lt 22 ]; then
    echo "the page is built with node 22 or newer; this is $(node --version), and npm has none for this system" >&2
    return 1
  fi
}

install_web() { (cd node/web && node "$1" ci --ignore-scripts --no-audit --no-fund --loglevel=error); }

node_major() { node -p 'process.versions.node.split(".")[0]'; }

use_own_node() {
  local own
  for own in "$PWD"/node/web/node_modules/node-*/bin; do
    if [ -x "$own/node" ]; then
      PATH=$own:$PATH
    fi
  done
}

# Changed, new and missing files with their content, so that a check also serves in a tree with work under way.
tree_state() {
  git status --porcelain --untracked-files=all
  git diff HEAD --no-ext-diff --binary
  git ls-files -z --others --exclude-standard | xargs -0 -r git hash-object --
}
