# Sourced by the commands beside it: a .venv with the pinned versions, made where it is missing or out of date.
# On Debian and Ubuntu neither python3-venv nor a recent pip is needed, only Python 3.11 or later and pip.

cd "$(dirname "${BASH_SOURCE[0]}")/.."
export PIP_DISABLE_PIP_VERSION_CHECK=1

tell() { printf '\n== %s\n' "$*" >&2; }

stop() {
  printf 'motelake: %s\n' "$*" >&2
  exit 3
}

find_python() {
  local name
  for name in ${PYTHON:-} python3 python3.14 python3.13 python3.12 python3.11 python; do
    if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      printf '%s' "$name"
      return
    fi
  done
  stop "Python 3.11 or later was not found. On Debian or Ubuntu: apt-get install python3 python3-pip; or set" \
    "PYTHON to where it is."
}

make_environment() {
  local python
  python=$(find_python)
  tell "Making .venv with $("$python" --version)"
  rm -rf .venv
  # Debian keeps what puts pip into a new environment in a package of its own; pip can do it from outside.
  "$python" -m venv .venv >/dev/null 2>&1 && .venv/bin/python -m pip --version >/dev/null 2>&1 && return
  rm -rf .venv
  "$python" -m venv --without-pip .venv ||
    stop "Python's venv module is missing. On Debian or Ubuntu: apt-get install python3-venv"
  "$python" -m pip --python .venv/bin/python install --quiet pip ||
    stop "pip is missing or older than 22.3. On Debian or Ubuntu: apt-get install python3-pip"
}

# install EXTRA: the package with its dependencies as pinned; EXTRA is one of pyproject.toml's, or empty.
install() {
  local extra=${1:-} stamp
  .venv/bin/python -m pip --version >/dev/null 2>&1 || make_environment
  stamp=.venv/installed${extra:+-$extra}
  if [ -e "$stamp" ] && [ "$(cat "$stamp")" = "$(cat infra/constraints.txt pyproject.toml | sha256sum)" ]; then
    return
  fi
  tell "Installing the pinned packages${extra:+ and those for $extra} into .venv (the first time they are downloaded)"
  # What builds the package is pinned too, so it is put beside it instead of fetched anew by pip.
  .venv/bin/python -m pip install --quiet --constraint infra/constraints.txt hatchling editables
  .venv/bin/python -m pip install --quiet --constraint infra/constraints.txt --no-build-isolation \
    --editable ".${extra:+[$extra]}"
  cat infra/constraints.txt pyproject.toml | sha256sum >"$stamp"
}
