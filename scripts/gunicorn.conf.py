"""The web server's limits (reliability: line and header limits, time limits, a graceful end)."""

import os

workers = int(os.environ.get("WEB_WORKERS", "2"))
threads = int(os.environ.get("WEB_THREADS", "4"))
worker_class = "gthread"
bind = os.environ.get("BIND", "127.0.0.1:8000")
timeout = 30
graceful_timeout = 30
max_requests = 5000
max_requests_jitter = 500
limit_request_line = 8190
limit_request_fields = 100
accesslog = None  # addresses carry tokens and plates
loglevel = "warning"
control_socket_disable = True
