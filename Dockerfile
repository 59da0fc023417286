FROM python:3.12-slim

ENV PYTHONDONTWRITEBYTECODE=1 PYTHONUNBUFFERED=1 PIP_NO_CACHE_DIR=1 ORT_DISABLE_TELEMETRY=1 \
    SWING_HOST=0.0.0.0 SWING_PORT=8000 \
    SWING_MODEL_DIR=/srv/swing/models SWING_DATABASE_URL=sqlite:////srv/swing/data/records.db

RUN useradd --system --create-home --home-dir /srv/swing swing
WORKDIR /srv/swing

COPY pyproject.toml README.md ./
COPY service service
COPY models models
RUN pip install . && install -d -o swing data

USER swing
VOLUME /srv/swing/data
EXPOSE 8000
HEALTHCHECK --interval=30s --timeout=3s --start-period=10s \
    CMD ["python", "-c", "import urllib.request; urllib.request.urlopen('http://127.0.0.1:8000/readyz', timeout=2)"]
CMD ["python", "-m", "service", "serve"]
