-- Where each vehicle was last seen and how fast it went: what `--exposure carried` extends to the cut-off.
-- Row: one vehicle that has not retired.
-- Key: vehicle.
-- Grain: its last kept reading, whatever brought it about, and the pace as far as the last reading of its last span that
--   lasted a day or more; vehicles without such a span are not carried. from_m: on the engine's clock, unknown when the clock is.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH last_readings AS (
    SELECT DISTINCT ON (vehicle) vehicle, site, date, odometer_m, origin_m
    FROM readings
    ORDER BY vehicle, date DESC, odometer_m DESC
),
paces AS (
    SELECT DISTINCT ON (vehicle)
        vehicle,
        sighting_date, engine_no, segment, clock_known,
        to_sighting_m AS pace_m,
        CAST(sighting_date AS BIGINT) - CAST(entry_date AS BIGINT) AS pace_days
    FROM spans
    WHERE sighting_date > entry_date
    ORDER BY vehicle, sighting_date DESC, engine_no DESC, segment DESC, clock_known DESC
)
SELECT
    l.vehicle,
    l.site,
    v.engine_family,
    v.model_year,
    l.odometer_m - l.origin_m AS from_m,
    l.date AS from_date,
    p.pace_m,
    p.pace_days
FROM last_readings AS l
JOIN paces AS p ON l.vehicle = p.vehicle
JOIN vehicles AS v ON l.vehicle = v.vehicle
WHERE v.retired_on IS NULL
