-- Visits in their newest version.
-- Row: one visit as last exported.
-- Key: none (source and record, which are left out).
-- Grain: versions of a record fold into the newest (newest_visits); the many records of one version pass as they are.
-- vehicle: its number (vehicle_numbers).
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH keyed AS (
    SELECT
        digest - digest % 4294967296 AS key_digest,
        vehicle AS vehicle_key, site, date, odometer_m, engine_family, model_year, engine_replaced
    FROM visits
),
all_newest AS (
    SELECT k.vehicle_key, k.site, k.date, k.odometer_m, k.engine_family, k.model_year, k.engine_replaced
    FROM keyed AS k
    LEFT JOIN (SELECT key_digest, 1 AS is_repeated FROM repeated_records) AS r ON k.key_digest = r.key_digest
    WHERE r.is_repeated IS NULL
    UNION ALL
    SELECT vehicle_key, site, date, odometer_m, engine_family, model_year, engine_replaced
    FROM newest_visits
)
SELECT
    n.vehicle,
    v.site,
    v.date,
    v.odometer_m,
    v.engine_family,
    v.model_year,
    v.engine_replaced
FROM all_newest AS v
JOIN vehicle_numbers AS n ON v.vehicle_key = n.vehicle_key
