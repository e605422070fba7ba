-- What became of the readings: the account of the odometer rules and of exposure.
-- Row: the whole store.
-- Key: none, one row.
-- Grain: all sightings, readings, stretches, vehicles and findings fold into counts.
WITH seen AS (
    SELECT
        COUNT(*) AS sightings,
        SUM(CASE WHEN odometer_m IS NULL THEN 1 ELSE 0 END) AS without_odometer
    FROM sightings
),
checked AS (
    SELECT
        SUM(CASE WHEN ignored = 1 THEN 1 ELSE 0 END) AS isolated,
        SUM(CASE WHEN ignored = 2 THEN 1 ELSE 0 END) AS too_fast
    FROM odometer_checks
),
kept AS (
    SELECT
        COUNT(*) AS kept,
        SUM(replaced) AS engines_replaced,
        SUM(unplaced) AS replacements_without_place,
        SUM(CASE WHEN before_segment < segment THEN 1 ELSE 0 END) AS segments_opened
    FROM readings
),
fleet AS (
    SELECT
        COUNT(*) AS vehicles,
        SUM(CASE WHEN engine_family IS NULL THEN 1 ELSE 0 END) AS without_family,
        SUM(CASE WHEN retired_on IS NOT NULL THEN 1 ELSE 0 END) AS retired,
        MIN(first_seen) AS first_day,
        MAX(last_seen) AS last_day
    FROM vehicles
),
watched AS (
    SELECT
        COUNT(*) AS spans,
        SUM(distance_m) AS exposure_m,
        SUM(to_sighting_m) - SUM(distance_m) AS after_last_visit_m,
        SUM(CASE WHEN clock_known = 0 THEN distance_m ELSE 0 END) AS unknown_clock_m,
        COUNT(DISTINCT CASE WHEN distance_m > 0 THEN vehicle END) AS vehicles_at_risk
    FROM spans
),
stored_findings AS (
    SELECT COUNT(*) AS findings
    FROM findings
),
old_findings AS (
    SELECT COUNT(*) AS findings
    FROM superseded_findings
),
placed_findings AS (
    SELECT COUNT(*) AS findings
    FROM findings_now
)
SELECT
    a.sightings,
    COALESCE(a.without_odometer, 0) AS without_odometer,
    COALESCE(b.isolated, 0) AS isolated,
    COALESCE(b.too_fast, 0) AS too_fast,
    d.kept,
    COALESCE(d.engines_replaced, 0) AS engines_replaced,
    COALESCE(d.replacements_without_place, 0) AS replacements_without_place,
    COALESCE(d.segments_opened, 0) AS segments_opened,
    e.vehicles,
    COALESCE(e.without_family, 0) AS without_family,
    COALESCE(e.retired, 0) AS retired,
    e.first_day,
    e.last_day,
    g.spans,
    COALESCE(g.exposure_m, 0) AS exposure_m,
    COALESCE(g.after_last_visit_m, 0) AS after_last_visit_m,
    COALESCE(g.unknown_clock_m, 0) AS unknown_clock_m,
    g.vehicles_at_risk,
    h.findings - i.findings - j.findings AS findings_without_case,
    h.findings - i.findings AS findings
FROM seen AS a
CROSS JOIN checked AS b
CROSS JOIN kept AS d
CROSS JOIN fleet AS e
CROSS JOIN watched AS g
CROSS JOIN stored_findings AS h
CROSS JOIN old_findings AS i
CROSS JOIN placed_findings AS j
ORDER BY a.sightings
