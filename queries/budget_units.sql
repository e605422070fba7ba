-- What the records know of the vehicles of a roster.
-- Row: one vehicle of the roster that was ever seen with an odometer that counts.
-- Key: place, the vehicle's place in the roster.
-- Grain: its last kept reading. position_m: distance of the engine now in it, unknown when its start is; pace_m in pace_days: of
--   its last span that lasted a day or more, unknown without one and for a retired vehicle; repaired: 1 when this engine has
--   had one of the failures asked for.
-- Order: place.
WITH met AS (
    SELECT u.place, r.vehicle, r.date, r.odometer_m, r.origin_m, r.engine_no
    FROM roster AS u
    JOIN vehicle_numbers AS n ON u.vehicle = n.vehicle_key
    JOIN readings AS r ON n.vehicle = r.vehicle
),
last_readings AS (
    SELECT DISTINCT ON (place) place, vehicle, date, odometer_m, origin_m, engine_no
    FROM met
    ORDER BY place, date DESC, odometer_m DESC
),
failed AS (
    SELECT DISTINCT vehicle, engine_no, 1 AS repaired
    FROM episodes
    WHERE cause IN (:causes)
)
SELECT
    l.place,
    l.date AS last_day,
    l.odometer_m,
    l.odometer_m - l.origin_m AS position_m,
    v.engine_family,
    v.model_year,
    v.retired_on,
    c.pace_m,
    c.pace_days,
    COALESCE(f.repaired, 0) AS repaired
FROM last_readings AS l
LEFT JOIN vehicles AS v ON l.vehicle = v.vehicle
LEFT JOIN carries AS c ON l.vehicle = c.vehicle
LEFT JOIN failed AS f ON l.vehicle = f.vehicle AND l.engine_no = f.engine_no
ORDER BY l.place
