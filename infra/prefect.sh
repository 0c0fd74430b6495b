# Sourced by infra/server and infra/worker: where Prefect is, and that it tells nobody else of it.

prefect=${MOTELAKE_PREFECT_PROGRAM:-}
if [ -z "$prefect" ]; then
  install s3
  prefect=.venv/bin/prefect
fi
host=${MOTELAKE_PREFECT_HOST:-127.0.0.1}
port=${MOTELAKE_PREFECT_PORT:-4200}
# The page asks this address; without it a server on another port would send it to the usual one.
export PREFECT_UI_API_URL=${PREFECT_UI_API_URL:-http://$host:$port/api}
export DO_NOT_TRACK=1 PREFECT_SERVER_ANALYTICS_ENABLED=false PREFECT_CLOUD_ENABLE_ORCHESTRATION_TELEMETRY=false
# A run tells every half minute that it lives; the server calls it crashed once it is silent for long.
export PREFECT_FLOWS_HEARTBEAT_FREQUENCY=30
# Which run holds which slot outlasts the server; otherwise a slot that was held when it died is never free again.
export PREFECT_SERVER_CONCURRENCY_LEASE_STORAGE=prefect.server.concurrency.lease_storage.filesystem
