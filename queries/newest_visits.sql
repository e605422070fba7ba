-- Visits of which there may be several versions, in their newest.
-- Row: one visit as last exported.
-- Key: none (source and record, which are left out).
-- Grain: versions of a record fold into one. Newest: greatest export day (unknown days are oldest), then
--   greatest batch, then greatest line; the digest settles what is left, so that the choice never depends on row order.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH keyed AS (
    SELECT
        source, record, export_date, batch, line, digest, digest - digest % 4294967296 AS key_digest,
        vehicle, site, date, odometer_m, engine_family, model_year, engine_replaced
    FROM visits
),
repeated AS (
    SELECT
        k.source, k.record, k.export_date, k.batch, k.line, k.digest,
        k.vehicle, k.site, k.date, k.odometer_m, k.engine_family, k.model_year, k.engine_replaced
    FROM keyed AS k
    JOIN repeated_records AS r ON k.key_digest = r.key_digest
),
newest AS (
    SELECT DISTINCT ON (source, record)
        source, record, export_date, batch, line, digest,
        vehicle AS vehicle_key, site, date, odometer_m, engine_family, model_year, engine_replaced
    FROM repeated
    ORDER BY source, record, export_date DESC NULLS LAST, batch DESC, line DESC, digest DESC
)
SELECT vehicle_key, site, date, odometer_m, engine_family, model_year, engine_replaced
FROM newest
