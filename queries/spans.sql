-- Spans of observation: the stretches of one engine in one odometer segment, end to end.
-- Row: one span.
-- Key: span; vehicle, engine_no, segment, clock_known, of which it is made.
-- Grain: stretches fold. A stretch in which a replacement without a place fell has no clock and stands
--   beside the span of the old engine.
-- main_site: most distance, ties to the first by name. A span of no distance stays; it carries no exposure.
-- exit_...: where observation ends, which is the entry when all of it lies after the last plain reading. sighting_...: the
--   last reading, whatever brought it about; to_sighting_m: the distance as far as that.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH by_site AS (
    SELECT
        span,
        site,
        MIN(vehicle) AS vehicle,
        MIN(engine_no) AS engine_no,
        MIN(segment) AS segment,
        MIN(engine_family) AS engine_family,
        MIN(model_year) AS model_year,
        MIN(entry_m) AS entry_m,
        SUM(distance_m) AS distance_m,
        SUM(to_sighting_m) AS to_sighting_m,
        MIN(entry_date) AS entry_date,
        MAX(CASE WHEN observed = 1 THEN exit_date END) AS exit_date,
        MAX(sighting_date) AS sighting_date,
        MIN(entry_odometer_m) AS entry_odometer_m,
        MAX(sighting_odometer_m) AS sighting_odometer_m,
        CAST(COUNT(*) AS BIGINT) AS stretches
    FROM stretches
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
    GROUP BY span, site
),
main_sites AS (
    SELECT DISTINCT ON (span) span, distance_m, site AS main_site
    FROM by_site
    ORDER BY span, distance_m DESC, main_site
),
whole AS (
    SELECT
        span,
        MIN(vehicle) AS vehicle,
        MIN(engine_no) AS engine_no,
        MIN(segment) AS segment,
        MIN(engine_family) AS engine_family,
        MIN(model_year) AS model_year,
        MIN(entry_m) AS entry_m,
        SUM(distance_m) AS distance_m,
        SUM(to_sighting_m) AS to_sighting_m,
        MIN(entry_date) AS entry_date,
        COALESCE(MAX(exit_date), MIN(entry_date)) AS exit_date,
        MAX(sighting_date) AS sighting_date,
        MIN(entry_odometer_m) AS entry_odometer_m,
        MAX(sighting_odometer_m) AS sighting_odometer_m,
        SUM(stretches) AS stretches,
        CAST(COUNT(*) AS BIGINT) AS sites
    FROM by_site
    GROUP BY span
)
SELECT
    w.span,
    w.vehicle, w.engine_no, w.segment,
    CAST(CASE WHEN w.entry_m IS NULL THEN 0 ELSE 1 END AS BIGINT) AS clock_known,
    w.engine_family, w.model_year,
    w.entry_m, w.entry_m + w.distance_m AS exit_m, w.distance_m, w.to_sighting_m,
    w.entry_date, w.exit_date, w.sighting_date,
    w.entry_odometer_m, w.entry_odometer_m + w.distance_m AS exit_odometer_m, w.sighting_odometer_m,
    w.stretches, w.sites, m.main_site
FROM whole AS w
JOIN main_sites AS m ON w.span = m.span
