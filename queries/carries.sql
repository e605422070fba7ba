-- Where each vehicle was last seen and how fast it went: what `--exposure carried` extends to the cut-off.
-- Row: one vehicle that has not retired.
-- Key: vehicle.
-- Grain: its last kept reading, whatever brought it about, and the pace as far as the last reading of its last span that
--   lasted a day or more; vehicles without such a span are not carried. from_m: on the engine's clock, unknown when the clock is.
-- Order: none, written to a file whose readers sum whole numbers or order for themselves.
WITH last_places AS (
    SELECT vehicle, MAX(place) AS place
    FROM readings
    WHERE vehicle >= :first_vehicle AND vehicle < :end_vehicle
    GROUP BY vehicle
),
paces AS (
    SELECT DISTINCT ON (vehicle)
        vehicle,
        sighting_date, span,
        to_sighting_m AS pace_m,
        CAST(sighting_date AS BIGINT) - CAST(entry_date AS BIGINT) AS pace_days
    FROM spans
    WHERE sighting_date > entry_date AND vehicle >= :first_vehicle AND vehicle < :end_vehicle
    ORDER BY vehicle, sighting_date DESC, span DESC
)
SELECT
    l.vehicle,
    r.site,
    v.engine_family,
    v.model_year,
    r.odometer_m - r.origin_m AS from_m,
    r.date AS from_date,
    p.pace_m,
    p.pace_days
FROM last_places AS l
JOIN readings AS r ON l.vehicle = r.vehicle AND l.place = r.place
JOIN paces AS p ON l.vehicle = p.vehicle
JOIN vehicles AS v ON l.vehicle = v.vehicle
WHERE v.retired_on IS NULL
