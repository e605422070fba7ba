-- Visits in their newest version.
-- Row: one visit as last exported.
-- Key: none (source and record, which are left out).
-- Grain: versions of a record fold into the newest (newest_visits); the many records of one version pass as they are.
-- vehicle: its number (vehicle_numbers).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH keyed AS (
    SELECT
        batch, line, digest, digest - digest % 4294967296 AS key_digest,
        vehicle AS vehicle_key, site, date, odometer_m, engine_family, model_year, engine_replaced
    FROM visits
),
repeated AS (
    SELECT key_digest, 1 AS is_repeated
    FROM repeated_records
),
newest AS (
    SELECT batch, line, digest, 1 AS is_newest
    FROM newest_visits
)
SELECT
    n.vehicle,
    k.site,
    k.date,
    k.odometer_m,
    k.engine_family,
    k.model_year,
    k.engine_replaced
FROM keyed AS k
LEFT JOIN repeated AS r ON k.key_digest = r.key_digest
LEFT JOIN newest AS w ON k.batch = w.batch AND k.line = w.line AND k.digest = w.digest
JOIN vehicle_numbers AS n ON k.vehicle_key = n.vehicle_key
WHERE r.is_repeated IS NULL OR w.is_newest = 1
