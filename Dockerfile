FROM python:3.11-slim-bookworm

# what WeasyPrint loads to print papers
RUN apt-get update \
 && apt-get install -y --no-install-recommends libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 libfontconfig1 \
 && rm -rf /var/lib/apt/lists/* \
 && useradd --system --uid 10001 --create-home shopserv \
 && install -d -o shopserv -g shopserv /data

ENV PYTHONUNBUFFERED=1 PYTHONDONTWRITEBYTECODE=1 VAR_DIR=/data STATIC_ROOT=/app/served BIND=0.0.0.0:8000
WORKDIR /app

COPY requirements.txt ./
RUN pip install --no-cache-dir --disable-pip-version-check -r requirements.txt

COPY manage.py ./
COPY shopserv ./shopserv
COPY static ./static
COPY templates ./templates
COPY locale ./locale
COPY fixtures ./fixtures
COPY scripts ./scripts
# only the demonstration's settings need no secret; the files are the same for all
RUN SHOPSERV_ENV=demo VAR_DIR=/tmp/build python manage.py collectstatic --noinput --verbosity 0 && rm -rf /tmp/build

USER shopserv
VOLUME /data
EXPOSE 8000
CMD ["scripts/serve"]
