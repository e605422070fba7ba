-- Spans of observation: the stretches of one engine in one odometer segment, end to end.
-- Row: one span.
-- Key: vehicle, engine_no, segment, clock_known.
-- Grain: stretches fold. A stretch in which a replacement without a place fell has no clock and stands
--   beside the span of the old engine.
-- main_site: most distance, ties to the first by name. A span of no distance stays; it carries no exposure.
-- exit_...: where observation ends, which is the entry when all of it lies after the last plain reading. sighting_...: the
--   last reading, whatever brought it about; to_sighting_m: the distance as far as that.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH by_site AS (
    SELECT
        vehicle, engine_no, segment,
        CAST(CASE WHEN entry_m IS NULL THEN 0 ELSE 1 END AS BIGINT) AS clock_known,
        site,
        SUM(distance_m) AS distance_m
    FROM stretches
    GROUP BY vehicle, engine_no, segment, CAST(CASE WHEN entry_m IS NULL THEN 0 ELSE 1 END AS BIGINT), site
),
main_sites AS (
    SELECT DISTINCT ON (vehicle, engine_no, segment, clock_known)
        vehicle, engine_no, segment, clock_known, distance_m, site AS main_site
    FROM by_site
    ORDER BY vehicle, engine_no, segment, clock_known, distance_m DESC, main_site
),
whole AS (
    SELECT
        vehicle, engine_no, segment,
        CAST(CASE WHEN entry_m IS NULL THEN 0 ELSE 1 END AS BIGINT) AS clock_known,
        MIN(engine_family) AS engine_family,
        MIN(model_year) AS model_year,
        MIN(entry_m) AS entry_m,
        SUM(distance_m) AS distance_m,
        SUM(to_sighting_m) AS to_sighting_m,
        MIN(entry_date) AS entry_date,
        COALESCE(MAX(CASE WHEN observed = 1 THEN exit_date END), MIN(entry_date)) AS exit_date,
        MAX(sighting_date) AS sighting_date,
        MIN(entry_odometer_m) AS entry_odometer_m,
        MAX(sighting_odometer_m) AS sighting_odometer_m,
        CAST(COUNT(*) AS BIGINT) AS stretches,
        CAST(COUNT(DISTINCT site) AS BIGINT) AS sites
    FROM stretches
    GROUP BY vehicle, engine_no, segment, CAST(CASE WHEN entry_m IS NULL THEN 0 ELSE 1 END AS BIGINT)
)
SELECT
    w.vehicle, w.engine_no, w.segment, w.clock_known, w.engine_family, w.model_year,
    w.entry_m, w.entry_m + w.distance_m AS exit_m, w.distance_m, w.to_sighting_m,
    w.entry_date, w.exit_date, w.sighting_date,
    w.entry_odometer_m, w.entry_odometer_m + w.distance_m AS exit_odometer_m, w.sighting_odometer_m,
    w.stretches, w.sites, m.main_site
FROM whole AS w
JOIN main_sites AS m
    ON w.vehicle = m.vehicle AND w.engine_no = m.engine_no AND w.segment = m.segment AND w.clock_known = m.clock_known
