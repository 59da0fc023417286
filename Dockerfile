# The base image is named by its tag; give it by digest where your builds must be the same for ever:
# docker build --build-arg PYTHON=python:3.11-slim@sha256:... .
ARG PYTHON=python:3.11-slim

FROM ${PYTHON} AS packages
ENV PIP_NO_CACHE_DIR=1 PIP_DISABLE_PIP_VERSION_CHECK=1
COPY .ci/container.lock /tmp/container.lock
RUN python -m venv /opt/packages \
    && /opt/packages/bin/pip install --require-hashes --no-deps --only-binary :all: \
        -r /tmp/container.lock \
    && /opt/packages/bin/pip uninstall --yes pip

FROM ${PYTHON}
ENV PATH=/opt/packages/bin:$PATH PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1 \
    ORT_DISABLE_TELEMETRY=1 SWING_HOST=0.0.0.0 SWING_PORT=8000 \
    SWING_MODEL_DIR=/srv/swing/models SWING_DATABASE_URL=sqlite:////srv/swing/data/records.db
RUN useradd --system --uid 10001 --no-create-home --home-dir /nonexistent swing \
    && install -d -o swing -m 0700 /srv/swing/data
WORKDIR /srv/swing
COPY --from=packages /opt/packages /opt/packages
COPY service service
COPY models models
RUN python -m compileall -q service

# Runs with a read-only root: it writes to the volume and to /tmp alone.
USER 10001
VOLUME /srv/swing/data
EXPOSE 8000
HEALTHCHECK --interval=10s --timeout=3s --start-period=20s --retries=3 \
    CMD ["python", "-c", "import urllib.request as u; u.urlopen('http://127.0.0.1:8000/healthz', timeout=2)"]
CMD ["python", "-m", "service", "serve"]
